/* Leases in PostgreSQL: three tables in a schema of their own, laid when the first search begins; see lease.h. */
#include "shop/lease.h"
#include "base/error.h"
#include "shop/postgresql/connection.h"
#include <string.h>

#define READ_AT_ONCE "5000"

struct ew_leases {
  struct ew_pg *pg;
  char *key;
};

static const char tables[] =
    "CREATE SCHEMA enginewright_search;"
    "CREATE TABLE enginewright_search.search (key text PRIMARY KEY, question text "
    "NOT "
    "NULL, physics bigint NOT NULL, tasks bigint NOT NULL, begun timestamptz NOT NULL DEFAULT "
    "now());"
    "CREATE TABLE enginewright_search.task (search text NOT NULL REFERENCES "
    "enginewright_search.search, number bigint NOT NULL, tries bigint NOT NULL DEFAULT 0, worker "
    "text, until timestamptz, done timestamptz, said text, PRIMARY KEY (search, number));"
    "CREATE INDEX task_open ON enginewright_search.task (search, number) WHERE done "
    "IS "
    "NULL;"
    "CREATE TABLE enginewright_search.run (search text NOT NULL REFERENCES "
    "enginewright_search.search, key text NOT NULL, line text NOT NULL, PRIMARY KEY (search, key))";

struct ew_leases *ew_leases_open(const char *address, const gint *stop, GError **error) {
  struct ew_pg *pg = ew_pg_open(address, EW_PG_SEARCH, stop, error);
  if (!pg)
    return NULL;
  struct ew_leases *l = g_new0(struct ew_leases, 1);
  l->pg = pg;
  return l;
}

void ew_leases_close(struct ew_leases *l) {
  if (!l)
    return;
  ew_pg_close(l->pg);
  g_free(l->key);
  g_free(l);
}

static void rollback(struct ew_leases *l) {
  if (ew_pg_is_open(l->pg))
    ew_pg_run(l->pg, NULL, "ROLLBACK");
}

/* ---- begun ---- */

/* Once; later workers need no right to create anything. */
static gboolean lay(struct ew_leases *l, GError **error) {
  gint64 there;
  return ew_pg_number(l->pg, &there, error,
                      "SELECT count(*) FROM pg_namespace WHERE nspname = 'enginewright_search'",
                      "") &&
         (there || ew_pg_run(l->pg, error, tables));
}

static gboolean other_physics(struct ew_leases *l, const struct ew_lease_search *s,
                              GError **error) {
  gint64 physics;
  if (!ew_pg_number(l->pg, &physics, error,
                    "SELECT physics FROM enginewright_search.search WHERE question = $1 AND "
                    "physics <> $2 ORDER BY begun LIMIT 1",
                    "ti", s->question, (gint64)s->physics))
    return FALSE;
  return physics == 0 ||
         ew_refuse(error,
                   "this search was begun by a program of physics %d, and this one has %d: their "
                   "runs don't go together; give all workers the same program",
                   (int)physics, s->physics);
}

static gboolean add_search(struct ew_leases *l, const struct ew_lease_search *s, GError **error) {
  return ew_pg_do(l->pg, error,
                  "INSERT INTO enginewright_search.search (key, question, physics, tasks) VALUES "
                  "($1, $2, $3, $4)",
                  "ttii", s->key, s->question, (gint64)s->physics, (gint64)s->tasks) &&
         ew_pg_do(l->pg, error,
                  "INSERT INTO enginewright_search.task (search, number) SELECT $1, n FROM "
                  "generate_series(0, $2::bigint - 1) n",
                  "ti", s->key, (gint64)s->tasks);
}

/* One at a time, so that two who begin it at once begin one. */
gboolean ew_leases_begin(struct ew_leases *l, const struct ew_lease_search *s, gboolean *joined,
                         GError **error) {
  gint64 there = 0;
  g_assert(s->tasks >= 1 && s->tasks <= EW_LEASE_MOST);
  gboolean good =
      ew_pg_run(l->pg, error, "BEGIN; SELECT pg_advisory_xact_lock(1163349298)") && lay(l, error) &&
      other_physics(l, s, error) &&
      ew_pg_number(l->pg, &there, error,
                   "SELECT count(*) FROM enginewright_search.search WHERE key = $1", "t", s->key) &&
      (there || add_search(l, s, error)) && ew_pg_run(l->pg, error, "COMMIT");
  rollback(l);
  if (good) {
    g_free(l->key);
    l->key = g_strdup(s->key);
    *joined = there != 0;
  }
  return good;
}

/* ---- one task ---- */

gboolean ew_leases_take(struct ew_leases *l, const char *worker, double lease_s, gint64 *number,
                        GError **error) {
  g_assert(l->key);
  *number = -1;
  PGresult *result = ew_pg_ask(
      l->pg, FALSE, error,
      "UPDATE enginewright_search.task SET worker = $2, tries = tries + 1, until = "
      "clock_timestamp() + make_interval(secs => $3::double precision) WHERE search = $1 AND "
      "number = (SELECT number "
      "FROM enginewright_search.task WHERE search = $1 AND done IS NULL AND tries < $4::bigint AND "
      "(until IS NULL OR until < clock_timestamp()) ORDER BY number LIMIT 1 FOR UPDATE "
      "SKIP LOCKED) RETURNING number",
      "ttdi", l->key, worker, lease_s, (gint64)EW_LEASE_TRIES);
  if (result && PQntuples(result) > 0)
    *number = g_ascii_strtoll(PQgetvalue(result, 0, 0), NULL, 10);
  gboolean good = result != NULL;
  PQclear(result);
  return good;
}

gboolean ew_leases_beat(struct ew_leases *l, const char *worker, gint64 number, double lease_s,
                        gboolean *mine, GError **error) {
  PGresult *result = ew_pg_ask(
      l->pg, FALSE, error,
      "UPDATE enginewright_search.task SET until = clock_timestamp() + make_interval(secs "
      "=> $4::double precision) WHERE search = $1 AND number = $2::bigint AND worker = $3 AND done "
      "IS NULL RETURNING 1",
      "titd", l->key, number, worker, lease_s);
  *mine = result && PQntuples(result) > 0;
  gboolean good = result != NULL;
  PQclear(result);
  return good;
}

static gboolean as_before(struct ew_leases *l, const char *lines, GError **error) {
  gint64 unlike;
  return ew_pg_number(
             l->pg, &unlike, error,
             "SELECT count(*) FROM unnest(string_to_array($2, E'\\n')) given JOIN "
             "enginewright_search.run r ON r.search = $1 AND r.key = split_part(given, E'\\t', 2) "
             "WHERE r.line <> given",
             "tt", l->key, lines) &&
         (unlike == 0 || ew_refuse(error,
                                   "figures of %d of the runs differ from what another worker "
                                   "handed in: one of the two ran "
                                   "another program; give all workers the same",
                                   (int)unlike));
}

gboolean ew_leases_done(struct ew_leases *l, const char *worker, gint64 number, const char *lines,
                        GError **error) {
  gboolean good =
      ew_pg_run(l->pg, error, "BEGIN") &&
      ew_pg_do(l->pg, error,
               "INSERT INTO enginewright_search.run (search, key, line) SELECT $1, "
               "split_part(given, E'\\t', 2), given FROM unnest(string_to_array($2, E'\\n')) given "
               "ORDER BY 2 ON CONFLICT (search, key) DO NOTHING",
               "tt", l->key, lines) &&
      as_before(l, lines, error) &&
      ew_pg_do(l->pg, error,
               "UPDATE enginewright_search.task SET done = clock_timestamp(), worker = $3 WHERE "
               "search = $1 AND number = $2::bigint AND done IS NULL",
               "tit", l->key, number, worker) &&
      ew_pg_run(l->pg, error, "COMMIT");
  rollback(l);
  return good;
}

gboolean ew_leases_failed(struct ew_leases *l, const char *worker, gint64 number, const char *says,
                          GError **error) {
  return ew_pg_do(l->pg, error,
                  "UPDATE enginewright_search.task SET until = NULL, said = coalesce($4, said), "
                  "tries = tries - CASE WHEN $4 IS NULL THEN 1 ELSE 0 END WHERE search = $1 AND "
                  "number = $2::bigint AND worker = $3 AND done IS NULL",
                  "titt", l->key, number, worker, says);
}

/* ---- all of them ---- */

gboolean ew_leases_again(struct ew_leases *l, gint64 *tasks, GError **error) {
  return ew_pg_number(
      l->pg, tasks, error,
      "WITH again AS (UPDATE enginewright_search.task SET tries = 0, until = NULL "
      "WHERE search = $1 AND done IS NULL AND tries >= $2::bigint AND (until IS NULL OR until "
      "< clock_timestamp()) RETURNING 1) SELECT count(*) FROM again",
      "ti", l->key, (gint64)EW_LEASE_TRIES);
}

gboolean ew_leases_count(struct ew_leases *l, struct ew_lease_counts *c, GError **error) {
  PGresult *result = ew_pg_ask(
      l->pg, FALSE, error,
      "SELECT count(*), count(done), count(*) FILTER (WHERE done IS NULL AND until >= "
      "clock_timestamp()), count(*) FILTER (WHERE done IS NULL AND tries >= $2::bigint AND (until "
      "IS NULL OR until < clock_timestamp())) FROM enginewright_search.task WHERE search "
      "= $1",
      "ti", l->key, (gint64)EW_LEASE_TRIES);
  gint64 *into[] = {&c->tasks, &c->done, &c->leased, &c->aside};
  for (int i = 0; result && i < 4; i++)
    *into[i] = g_ascii_strtoll(PQgetvalue(result, 0, i), NULL, 10);
  gboolean good = result != NULL;
  PQclear(result);
  return good;
}

char *ew_leases_why(struct ew_leases *l) {
  PGresult *result = ew_pg_ask(l->pg, FALSE, NULL,
                               "SELECT said FROM enginewright_search.task WHERE search = $1 AND "
                               "done IS NULL AND tries >= $2::bigint AND said IS NOT NULL ORDER BY "
                               "number LIMIT 1",
                               "ti", l->key, (gint64)EW_LEASE_TRIES);
  char *why = result && PQntuples(result) > 0 ? g_strdup(PQgetvalue(result, 0, 0)) : NULL;
  PQclear(result);
  return why;
}

gboolean ew_leases_read(struct ew_leases *l, ew_leases_line take, gpointer data, GError **error) {
  g_autofree char *after = g_strdup("");
  for (int got = 1; got > 0;) {
    PGresult *result = ew_pg_ask(
        l->pg, FALSE, error,
        "SELECT key, line FROM enginewright_search.run WHERE search = $1 AND key > $2 ORDER BY key "
        "LIMIT " READ_AT_ONCE,
        "tt", l->key, after);
    if (!result)
      return FALSE;
    gboolean good = TRUE;
    got = PQntuples(result);
    for (int i = 0; good && i < got; i++)
      good = take(PQgetvalue(result, i, 1), data, error);
    if (got > 0) {
      g_free(after);
      after = g_strdup(PQgetvalue(result, got - 1, 0));
    }
    PQclear(result);
    if (!good)
      return FALSE;
  }
  return TRUE;
}
