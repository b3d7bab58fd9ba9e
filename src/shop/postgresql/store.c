/* The shop's store over one connection. What a cell does goes through functions of the database (schema.c), what an office reads
 * through tables; the bytes of rows are kept once, by their digest, compressed where that helps (zlib, RFC 1950). */
#include "shop/postgresql/postgresql.h"
#include "base/error.h"
#include "shop/coding.h"
#include "shop/postgresql/connection.h"
#include "shop/postgresql/schema.h"
#include <math.h>
#include <string.h>

#define BATCH 100                /* facts a question, when reading */
#define ASKED ((gsize)256 << 10) /* bytes from here on are sent only where the store lacks them */

struct store {
  struct ew_shop_store store;
  struct ew_pg *pg;
};

static struct ew_pg *pg_of(struct ew_shop_store *store) {
  return ((struct store *)store)->pg;
}

static void store_close(struct ew_shop_store *store) {
  ew_pg_close(pg_of(store));
  g_free(store);
}

/* ---- the schema ---- */

/* -1: there is none. */
static gboolean version_of(struct ew_pg *pg, gint64 *version, GError **error) {
  gint64 there;
  *version = -1;
  if (!ew_pg_number(pg, &there, error,
                    "SELECT count(*) FROM pg_namespace n JOIN pg_class c ON c.relnamespace = n.oid "
                    "WHERE n.nspname = 'enginewright' AND c.relname = 'step'",
                    ""))
    return FALSE;
  return !there || ew_pg_number(pg, version, error,
                                "SELECT coalesce(max(version), 0) FROM enginewright.step", "");
}

static gboolean store_check(struct ew_shop_store *store, GError **error) {
  gint64 version;
  if (!version_of(pg_of(store), &version, error))
    return FALSE;
  if (version == ew_shop_newest())
    return TRUE;
  if (version < 0)
    return ew_refuse(error, "this database holds no shop: 'shop new' lays one");
  return version > ew_shop_newest()
             ? ew_refuse(error,
                         "this shop was laid by a later version of the program (schema "
                         "%" G_GINT64_FORMAT "; this one knows %d): update the program here",
                         version, ew_shop_newest())
             : ew_refuse(error,
                         "this shop is of an earlier version of the program (schema "
                         "%" G_GINT64_FORMAT "; this one needs %d): run 'shop new' on it once, as "
                         "who laid it",
                         version, ew_shop_newest());
}

/* Roles are the server's, not the database's: another shop may have made them. */
static gboolean make_role(struct ew_pg *pg, const char *name, GError **error) {
  gint64 there;
  g_autofree char *sql = g_strdup_printf("CREATE ROLE %s NOLOGIN", name);
  return ew_pg_number(pg, &there, error, "SELECT count(*) FROM pg_roles WHERE rolname = $1", "t",
                      name) &&
         (there || ew_pg_run(pg, error, sql));
}

static gboolean lay_all(struct ew_pg *pg, gint64 from, GError **error) {
  static const char *const roles[] = {"enginewright_cell", "enginewright_bench",
                                      "enginewright_office", "enginewright_customer"};
  gboolean good = TRUE;
  for (gsize i = 0; good && i < G_N_ELEMENTS(roles); i++)
    good = make_role(pg, roles[i], error);
  if (good && from < 0)
    good =
        ew_pg_run(pg, error,
                  "CREATE SCHEMA enginewright; CREATE TABLE step (version bigint PRIMARY KEY, at "
                  "timestamptz NOT NULL DEFAULT now())");
  for (gint64 i = MAX(from, 0); good && i < ew_shop_newest(); i++)
    good = ew_pg_run(pg, error, ew_shop_steps[i]) &&
           ew_pg_do(pg, error, "INSERT INTO step (version) VALUES ($1)", "i", i + 1);
  return good;
}

static void store_rollback(struct ew_shop_store *store) {
  ew_pg_settle(pg_of(store), NULL);
  if (ew_pg_is_open(pg_of(store)))
    ew_pg_run(pg_of(store), NULL, "ROLLBACK");
}

/* All of it in one transaction, one at a time. */
static gboolean store_lay(struct ew_shop_store *store, gboolean *laid, gint64 *before,
                          GError **error) {
  struct ew_pg *pg = pg_of(store);
  gint64 version = 0;
  *laid = FALSE;
  gboolean good = ew_pg_run(pg, error, "BEGIN; SELECT pg_advisory_xact_lock(1163349297)") &&
                  version_of(pg, &version, error);
  if (good && version < ew_shop_newest()) {
    *laid = TRUE;
    good = lay_all(pg, version, error);
  } else if (good && version > ew_shop_newest())
    good = store_check(store, error);
  good = good && ew_pg_run(pg, error, "COMMIT");
  store_rollback(store);
  *before = version;
  return good;
}

/* ---- cells ---- */

static gboolean store_join(struct ew_shop_store *store, const struct ew_shop_book *book,
                           GError **error) {
  return ew_pg_do(pg_of(store), error, "SELECT join_book($1, $2)", "tt", book->identity,
                  book->name);
}

static gboolean store_line(struct ew_shop_store *store, const char *identity, const char *writer,
                           const char *parent, gint64 first, GError **error) {
  return ew_pg_do(pg_of(store), error, "SELECT writer_line($1, $2, $3, $4)", "ttti", identity,
                  writer, parent, first);
}

static gboolean store_clock(struct ew_shop_store *store, struct ew_shop_clock *clock,
                            GError **error) {
  gint64 from_us = g_get_real_time(), there_us;
  if (!ew_pg_number(pg_of(store), &there_us, error,
                    "SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint", ""))
    return FALSE;
  gint64 to_us = g_get_real_time();
  *clock = (struct ew_shop_clock){(double)(there_us - (from_us + (to_us - from_us) / 2)) / 1e6,
                                  fabs((double)(to_us - from_us)) / 2e6};
  return TRUE;
}

static gboolean store_reached(struct ew_shop_store *store, const char *writer, gint64 *seq,
                              GError **error) {
  return ew_pg_number(pg_of(store), seq, error, "SELECT reached($1)", "t", writer);
}

static gboolean store_mark(struct ew_shop_store *store, const char *writer, gint64 seq,
                           gint64 *mark, GError **error) {
  return ew_pg_number(pg_of(store), mark, error, "SELECT mark_at($1, $2)", "ti", writer, seq);
}

static gboolean store_settled(struct ew_shop_store *store, const char *writer, gint64 seq, int days,
                              gboolean *settled, GError **error) {
  gint64 there;
  if (!ew_pg_number(pg_of(store), &there, error,
                    "SELECT count(*) FROM fact WHERE writer = $1 AND seq = $2 AND at < now() - "
                    "make_interval(days => $3::integer)",
                    "tii", writer, seq, (gint64)days))
    return FALSE;
  *settled = there != 0;
  return TRUE;
}

static gboolean store_begin(struct ew_shop_store *store, const char *writer, GError **error) {
  return ew_pg_run(pg_of(store), error, "BEGIN") &&
         ew_pg_do(pg_of(store), error, "SELECT pg_advisory_xact_lock(hashtextextended($1, 19))",
                  "t", writer);
}

/* Large ones may be there: a row that changed beside its bytes, or a book that is sent again. */
static gboolean lacks(struct ew_pg *pg, GBytes *part, const char *digest, gboolean *lacking,
                      GError **error) {
  gint64 there = 0;
  gboolean good = g_bytes_get_size(part) < ASKED ||
                  (ew_pg_settle(pg, error) &&
                   ew_pg_number(pg, &there, error, "SELECT has_part($1)", "t", digest));
  *lacking = there == 0;
  return good;
}

static gboolean put_part(struct ew_pg *pg, GBytes *part, GString *list, GError **error) {
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, part);
  gboolean lacking;
  g_string_append_printf(list, "%s%s", list->len > 1 ? "," : "", digest);
  if (!lacks(pg, part, digest, &lacking, error) || !lacking)
    return !lacking;
  const char *coding;
  g_autoptr(GBytes) coded = ew_coding_pack(part, &coding);
  gsize size;
  const void *data = g_bytes_get_data(coded, &size);
  return ew_pg_queue(pg, FALSE, error, "SELECT put_part($1, $2, $3, $4)", "titb", digest,
                     (gint64)g_bytes_get_size(part), coding, data ? data : "", size);
}

static gboolean store_put(struct ew_shop_store *store, const char *writer,
                          const struct ew_letter *l, GError **error) {
  struct ew_pg *pg = pg_of(store);
  GString *parts = g_string_new("{");
  gboolean good = TRUE;
  for (guint i = 0; good && i < l->row.parts->len; i++)
    good = put_part(pg, g_ptr_array_index(l->row.parts, i), parts, error);
  g_string_append_c(parts, '}');
  g_autofree char *number =
      l->name.has_number ? g_strdup_printf("%" G_GINT64_FORMAT, l->name.number) : NULL;
  good =
      good && ew_pg_queue(pg, FALSE, error,
                          "SELECT put_fact($1, $2, $3, $4, $5::bigint, $6, $7, $8, $9::json, $10, "
                          "$11::text[])",
                          "tiitttttttt", writer, l->seq, l->mark, l->name.what, number, l->name.key,
                          l->row.uid, l->row.lasting, l->row.body, l->digest, parts->str);
  g_string_free(parts, TRUE);
  return good;
}

static gboolean store_shipped(struct ew_shop_store *store, const char *writer, gint64 seq,
                              const struct ew_shop_clock *clock, GError **error) {
  return ew_pg_settle(pg_of(store), error) &&
         ew_pg_do(pg_of(store), error, "SELECT note_shipping($1, $2, $3, $4)", "tidd", writer, seq,
                  clock->ahead_s, clock->doubt_s);
}

static gboolean store_commit(struct ew_shop_store *store, GError **error) {
  return ew_pg_settle(pg_of(store), error) && ew_pg_run(pg_of(store), error, "COMMIT");
}

/* ---- reading ---- */

static char *text_at(const PGresult *r, int row, int column) {
  return PQgetisnull(r, row, column) ? NULL : g_strdup(PQgetvalue(r, row, column));
}

static gint64 number_at(const PGresult *r, int row, int column) {
  return g_ascii_strtoll(PQgetvalue(r, row, column), NULL, 10);
}

/* Numbers of a writer have no gaps (read_some refuses one), so its last says how many facts there are: none is counted, which would
 * take as long as all that ever came. O(writers). */
static const char heads_of[] =
    "SELECT b.name, b.identity, w.uid, w.login, coalesce(l.seq - w.first_seq + 1, 0), l.seq, "
    "to_char(l.at, 'YYYY-MM-DD\"T\"HH24:MI:SS\"Z\"'), (SELECT s.ahead_s FROM shipping s WHERE "
    "s.writer = w.uid ORDER BY s.at DESC LIMIT 1) FROM writer w JOIN book b ON b.identity = w.book "
    "LEFT JOIN LATERAL (SELECT f.seq, f.at FROM fact f WHERE f.writer = w.uid ORDER BY f.seq DESC "
    "LIMIT 1) l ON true WHERE coalesce(l.seq, 0) >= (SELECT coalesce(min(n.first_seq), 0) FROM "
    "writer n WHERE n.parent = w.uid) ORDER BY b.name, l.at, w.uid";

static GArray *store_heads(struct ew_shop_store *store, GError **error) {
  PGresult *r = ew_pg_ask(pg_of(store), FALSE, error, heads_of, "");
  if (!r)
    return NULL;
  GArray *heads = g_array_new(FALSE, FALSE, sizeof(struct ew_shop_head));
  g_array_set_clear_func(heads, ew_shop_head_clear);
  for (int i = 0; i < PQntuples(r); i++) {
    struct ew_shop_head head = {
        .name = text_at(r, i, 0),
        .identity = text_at(r, i, 1),
        .writer = text_at(r, i, 2),
        .login = text_at(r, i, 3),
        .facts = number_at(r, i, 4),
        .last = number_at(r, i, 5),
        .came_at = text_at(r, i, 6),
        .clock_s = PQgetisnull(r, i, 7) ? (double)NAN : g_ascii_strtod(PQgetvalue(r, i, 7), NULL)};
    g_array_append_val(heads, head);
  }
  PQclear(r);
  return heads;
}

static gboolean store_begin_reading(struct ew_shop_store *store, GError **error) {
  return ew_pg_run(pg_of(store), error, "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY");
}

/* The bytes that were asked for next. */
static GBytes *next_part(struct ew_pg *pg, const char *digest, GError **error) {
  PGresult *r = ew_pg_next(pg, error);
  if (!r)
    return NULL;
  GBytes *whole = NULL;
  if (PQntuples(r) == 1 && !PQgetisnull(r, 0, 0)) {
    g_autoptr(GBytes) coded = g_bytes_new(PQgetvalue(r, 0, 2), (gsize)PQgetlength(r, 0, 2));
    whole = ew_coding_unpack(coded, PQgetvalue(r, 0, 1), number_at(r, 0, 0), digest, error);
  } else
    ew_refuse(error, "the shop lacks bytes that it took (%.12s): restore it from a backup", digest);
  PQclear(r);
  return whole;
}

static gboolean read_parts(struct ew_pg *pg, const char *list, GPtrArray *parts, GError **error) {
  g_auto(GStrv) digests = g_strsplit_set(list, "{,}", -1);
  for (char **one = digests; *one; one++) {
    GBytes *bytes = **one ? next_part(pg, *one, error) : NULL;
    if (**one && !bytes)
      return FALSE;
    if (bytes)
      g_ptr_array_add(parts, bytes);
  }
  return TRUE;
}

/* Of all letters at once; they are taken one by one, so no more than one is in memory. */
static gboolean ask_parts(struct ew_pg *pg, const char *writer, const PGresult *r, GError **error) {
  gboolean good = TRUE;
  for (int i = 0; good && i < PQntuples(r); i++) {
    g_auto(GStrv) digests = g_strsplit_set(PQgetvalue(r, i, 7), "{,}", -1);
    for (char **one = digests; good && *one; one++)
      good =
          !**one || ew_pg_queue(pg, TRUE, error, "SELECT size, coding, bytes FROM part_of($1, $2)",
                                "tt", *one, writer);
  }
  return good;
}

static gboolean read_letter(struct ew_pg *pg, const PGresult *r, int i, ew_ship_take take,
                            gpointer user, GError **error) {
  g_autofree char *key = text_at(r, i, 4);
  struct ew_letter letter = {
      .seq = number_at(r, i, 0),
      .mark = number_at(r, i, 1),
      .name = {PQgetvalue(r, i, 2), !PQgetisnull(r, i, 3), number_at(r, i, 3), key},
      .row = {.body = text_at(r, i, 5),
              .parts = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref)}};
  ew_row_digest(&letter.name, letter.row.body, letter.digest);
  gboolean good =
      strcmp(letter.digest, PQgetvalue(r, i, 6)) == 0 ||
      ew_refuse(error,
                "fact %" G_GINT64_FORMAT " of the shop is not what was sent: restore the shop from "
                "a backup",
                letter.seq);
  good = good && read_parts(pg, PQgetvalue(r, i, 7), letter.row.parts, error) &&
         take(&letter, user, error);
  ew_row_clear(&letter.row);
  return good;
}

/* *after rises; *more FALSE: that was the last. */
static gboolean read_some(struct ew_pg *pg, const char *writer, gint64 *after, gint64 to,
                          gboolean *more, ew_ship_take take, gpointer user, GError **error) {
  PGresult *r =
      ew_pg_ask(pg, FALSE, error,
                "SELECT seq, mark, what, number, key, body, digest, parts FROM fact WHERE "
                "writer = $1 AND seq > $2 AND seq <= $3 ORDER BY seq LIMIT $4",
                "tiii", writer, *after, to, (gint64)BATCH);
  gboolean good = r && ask_parts(pg, writer, r, error);
  int rows = good ? PQntuples(r) : 0;
  *more = rows == BATCH;
  for (int i = 0; good && i < rows; i++) {
    good = number_at(r, i, 0) == *after + 1 ||
           ew_refuse(error,
                     "the shop lacks fact %" G_GINT64_FORMAT " of this cell: it has not all been "
                     "sent yet; ask again once it has",
                     *after + 1);
    good = good && read_letter(pg, r, i, take, user, error);
    *after += good;
  }
  PQclear(r);
  return good && ew_pg_settle(pg, error);
}

static gboolean store_read(struct ew_shop_store *store, const char *writer, gint64 after,
                           ew_ship_take take, gpointer user, GError **error) {
  PGresult *lines = ew_pg_ask(pg_of(store), FALSE, error,
                              "SELECT writer, from_seq, to_seq FROM chain($1)", "t", writer);
  gboolean good = lines != NULL;
  for (int i = 0; good && i < PQntuples(lines); i++) {
    gboolean more = TRUE;
    gint64 to = number_at(lines, i, 2);
    if (i == 0) /* a book that was sent again begins where that began */
      after = MAX(after, number_at(lines, i, 1) - 1);
    while (good && more && after < to)
      good = read_some(pg_of(store), PQgetvalue(lines, i, 0), &after, to, &more, take, user, error);
  }
  PQclear(lines);
  return good;
}

static const struct ew_shop_store_class class = {
    .close = store_close,
    .lay = store_lay,
    .check = store_check,
    .join = store_join,
    .line = store_line,
    .clock = store_clock,
    .reached = store_reached,
    .mark = store_mark,
    .settled = store_settled,
    .begin = store_begin,
    .put = store_put,
    .shipped = store_shipped,
    .commit = store_commit,
    .rollback = store_rollback,
    .heads = store_heads,
    .begin_reading = store_begin_reading,
    .read = store_read,
};

struct ew_shop_store *ew_postgresql_open(const char *address, const gint *stop, GError **error) {
  struct ew_pg *pg = ew_pg_open(address, EW_PG_SHOP, stop, error);
  if (!pg)
    return NULL;
  struct store *store = g_new0(struct store, 1);
  *store = (struct store){{&class}, pg};
  return &store->store;
}
