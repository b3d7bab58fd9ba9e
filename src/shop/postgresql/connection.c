/* libpq without its blocking calls: each wait is a poll(2) that ends at a deadline and looks at *stop ten times a second. Only the
 * look-up of a host's name is libpq's own and can take as long as the resolver does.
 *
 * Passwords come from libpq's own places (PGPASSFILE, ~/.pgpass, a service file); what the server says is shown
 * without the connection string. */
#include "shop/postgresql/connection.h"
#include "base/error.h"
#include "base/language.h"
#include <errno.h>
#include <math.h>
#include <poll.h>
#include <string.h>

#define WAIT_S  20 /* for an answer, and for a connection; common practice, no source */
#define TICK_MS 100
#define MOST    16 /* values of a statement */

struct ew_pg {
  PGconn *connection;
  enum ew_pg_for what;
  const gint *stop;
  gboolean broken;
  int queued; /* sent or to be sent, whose answer was not taken yet */
  gboolean piped, synced;
};

static gboolean gone(struct ew_pg *pg, GError **error, const char *why) {
  pg->broken = TRUE;
  if (pg->what == EW_PG_SEARCH)
    return ew_fail(
        error,
        "the database does not answer (%s); what was run is kept in --keep, and the same "
        "line goes on from there",
        why);
  return ew_fail(error, "the shop does not answer (%s); what a cell writes waits in its book", why);
}

/* What the server or libpq says, in one line. */
static char *said(const char *text) {
  char *line = g_strdup(text && *text ? text : "?");
  g_strdelimit(line, "\n\r\t", ' ');
  return g_strstrip(line);
}

/* Until the socket is ready. FALSE with *error. */
static gboolean wait_for(struct ew_pg *pg, short events, gint64 until_us, GError **error) {
  struct pollfd file = {PQsocket(pg->connection), events, 0};
  for (;;) {
    if (pg->stop && g_atomic_int_get(pg->stop))
      return gone(pg, error, ew_tr(EW_TEXT("stopped")));
    if (g_get_monotonic_time() > until_us)
      return gone(pg, error, ew_tr(EW_TEXT("nothing came in time")));
    int ready = poll(&file, 1, TICK_MS);
    if (ready > 0)
      return TRUE;
    if (ready < 0 && errno != EINTR)
      return gone(pg, error, g_strerror(errno));
  }
}

static gint64 deadline(void) {
  return g_get_monotonic_time() + (gint64)WAIT_S * G_USEC_PER_SEC;
}

/* Why a connection failed. libpq hands out no result of one, but writes the server's SQLSTATE into the error when it is asked to be verbose
 * (before the first poll): "...: FATAL:  28P01: password ...", in whatever language the words are. */
struct refusal {
  char state[6]; /* "": the server said nothing, or was not reached */
  char *line;    /* what it said, without the state and where in its source it was said */
};

static gboolean is_state(const char *text) {
  for (int i = 0; i < 5; i++)
    if (!g_ascii_isdigit(text[i]) && !g_ascii_isupper(text[i]))
      return FALSE;
  return text[5] == ':' && text[6] == ' ';
}

/* Where a line has its state; NULL: it has none. The server's own words come behind it, whatever they look like. */
static const char *state_in(const char *line, const char *end) {
  for (const char *at = strstr(line, ":  "); at && at < end; at = strstr(at + 1, ":  "))
    if (is_state(at + 3))
      return at + 3;
  return NULL;
}

/* The last one, of several servers that were tried in turn: a line each, and more lines of where. */
static struct refusal refusal_of(const char *text) {
  struct refusal r = {.line = NULL};
  const char *found = NULL;
  for (const char *line = text; line && *line;) {
    const char *end = line + strcspn(line, "\n"), *state = state_in(line, end);
    found = state ? state : found;
    line = *end ? end + 1 : end;
  }
  if (!found) {
    r.line = said(text);
    return r;
  }
  memcpy(r.state, found, 5);
  g_autofree char *front = g_strndup(text, (gsize)(found - text));
  g_autofree char *words = g_strndup(found + 7, strcspn(found + 7, "\n"));
  g_autofree char *whole = g_strconcat(front, words, NULL);
  r.line = said(whole);
  return r;
}

/* 28: the login; 3D: the database; 42501: the right to connect. Those stay wrong, as a password that is needed and not there does; a server that
 * goes away while it is spoken to, is starting, or is full (57, 53, 08) comes back. */
static gboolean stays_wrong(const struct refusal *r, PGconn *connection) {
  static const char *const states[] = {"28", "3D", "42"};
  gboolean stays = !*r->state && PQconnectionNeedsPassword(connection);
  for (gsize i = 0; i < G_N_ELEMENTS(states); i++)
    stays |= g_str_has_prefix(r->state, states[i]);
  return stays;
}

static gboolean tell_connection(struct ew_pg *pg, GError **error) {
  struct refusal r = refusal_of(PQerrorMessage(pg->connection));
  g_autofree char *line = r.line;
  if (!stays_wrong(&r, pg->connection))
    return gone(pg, error, line);
  return pg->what == EW_PG_SEARCH
             ? ew_refuse(error,
                         "the database does not let this program in: %s (a password is written "
                         "into the file ~/.pgpass, or the one that PGPASSFILE names)",
                         line)
             : ew_refuse(
                   error,
                   "the shop does not let this program in: %s (a password is written into the "
                   "file ~/.pgpass, or the one that PGPASSFILE names)",
                   line);
}

static gboolean connect_there(struct ew_pg *pg, GError **error) {
  gint64 until = deadline();
  for (PostgresPollingStatusType now = PGRES_POLLING_WRITING; now != PGRES_POLLING_OK;
       now = PQconnectPoll(pg->connection)) {
    if (PQstatus(pg->connection) == CONNECTION_BAD || now == PGRES_POLLING_FAILED)
      return tell_connection(pg, error);
    if (!wait_for(pg, now == PGRES_POLLING_READING ? POLLIN : POLLOUT, until, error))
      return FALSE;
  }
  PQsetErrorVerbosity(pg->connection, PQERRORS_DEFAULT); /* from now on results have their states */
  return PQsetnonblocking(pg->connection, 1) == 0 || tell_connection(pg, error);
}

static void hear_nothing(void *user, const PGresult *result) {
  (void)user, (void)result;
}

/* What libpq can't read as an address stays so. */
static gboolean is_read(const char *address, GError **error) {
  char *problem = NULL;
  PQconninfoOption *options = PQconninfoParse(address, &problem);
  g_autofree char *line = said(problem);
  PQfreemem(problem);
  PQconninfoFree(options);
  return options || ew_refuse(error, "the shop's address can't be read: %s", line);
}

struct ew_pg *ew_pg_open(const char *address, enum ew_pg_for what, const gint *stop,
                         GError **error) {
  static const char *const keys[] = {"dbname", "fallback_application_name", "client_encoding",
                                     NULL};
  const char *const values[] = {address, "enginewright", "UTF8", NULL};
  if (!is_read(address, error))
    return NULL;
  struct ew_pg *pg = g_new0(struct ew_pg, 1);
  *pg = (struct ew_pg){PQconnectStartParams(keys, values, 1), what, stop, FALSE};
  if (pg->connection) {
    PQsetErrorVerbosity(pg->connection, PQERRORS_VERBOSE); /* for refusal_of */
    PQsetNoticeReceiver(pg->connection, hear_nothing, NULL);
    if (connect_there(pg, error) &&
        ew_pg_run(pg, error,
                  "SET client_min_messages = warning; SET statement_timeout = '20s'; SET "
                  "search_path = enginewright, pg_temp; SET datestyle = ISO; SET timezone = 'UTC'; "
                  "SET jit = off"))
      return pg;
  } else
    ew_fail(error, "memory ran out");
  ew_pg_close(pg);
  return NULL;
}

void ew_pg_close(struct ew_pg *pg) {
  if (!pg)
    return;
  PQfinish(pg->connection);
  g_free(pg);
}

gboolean ew_pg_is_open(const struct ew_pg *pg) {
  PGTransactionStatusType now = PQtransactionStatus(pg->connection);
  return !pg->broken && (now == PQTRANS_INTRANS || now == PQTRANS_INERROR);
}

/* Once it stood, a connection that is lost comes back, whatever the last words were. */
static gboolean lost(struct ew_pg *pg, GError **error) {
  g_autofree char *line = said(PQerrorMessage(pg->connection));
  return gone(pg, error, line);
}

/* ---- an answer ---- */

static gboolean flush(struct ew_pg *pg, gint64 until, GError **error) {
  int more;
  while ((more = PQflush(pg->connection)) == 1) {
    if (!wait_for(pg, POLLIN | POLLOUT, until, error))
      return FALSE;
    if (!PQconsumeInput(pg->connection))
      return lost(pg, error);
  }
  return more == 0 || lost(pg, error);
}

/* The last result of what was sent; earlier ones are let go, but for one that failed. */
static PGresult *receive(struct ew_pg *pg, gint64 until, GError **error) {
  PGresult *last = NULL;
  for (;;) {
    while (PQisBusy(pg->connection))
      if (!wait_for(pg, POLLIN, until, error) ||
          (!PQconsumeInput(pg->connection) && !lost(pg, error))) {
        PQclear(last);
        return NULL;
      }
    PGresult *next = PQgetResult(pg->connection);
    if (!next)
      return last;
    gboolean failed = last && PQresultStatus(last) == PGRES_FATAL_ERROR;
    PQclear(failed ? next : last);
    last = failed ? last : next;
  }
}

static gboolean is_class(const char *state, const char *class) {
  return state && strncmp(state, class, strlen(class)) == 0;
}

/* SQLSTATE: 08 connection, 53 no resources, 57 taken down, 40 in one another's way, 28 and 42501 rights; EW are the shop's own. */
static gboolean tell_result(struct ew_pg *pg, const PGresult *result, GError **error) {
  const char *state = PQresultErrorField(result, PG_DIAG_SQLSTATE);
  g_autofree char *line = said(PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY));
  if (!state || is_class(state, "08") || is_class(state, "57") || is_class(state, "40"))
    return gone(pg, error, line);
  if (is_class(state, "53") && pg->what == EW_PG_SEARCH)
    return ew_fail(error, "the database takes nothing more (%s); free some space there", line);
  if (is_class(state, "53"))
    return ew_fail(error,
                   "the shop takes nothing more (%s): what was written waits in the book; free "
                   "some space there",
                   line);
  if (strcmp(state, "EW001") == 0)
    return ew_refuse(error,
                     "the shop holds something else under the same name (%s): one of the two was "
                     "changed behind the program's back; nothing more is sent until it is "
                     "settled which",
                     line);
  if (strcmp(state, "EW002") == 0)
    return ew_refuse(error, "the shop takes this from its own login alone: %s", line);
  if (strcmp(state, "EW004") == 0)
    return strcmp(line, "?") != 0
               ? ew_refuse(error, "the shop knows this book as '%s': join it by that name", line)
               : ew_refuse(error, "the shop has a cell of that name, with another book: choose "
                                  "another name");
  if (strcmp(state, "42501") == 0 && pg->what == EW_PG_SEARCH)
    return ew_refuse(error,
                     "this login may not do that in the database (%s): whoever begins a search "
                     "needs the right to create a schema there, who joins it those on its tables",
                     line);
  if (is_class(state, "28") || strcmp(state, "42501") == 0)
    return ew_refuse(error,
                     "this login may not do that in the shop (%s): grant it the role "
                     "enginewright_cell or enginewright_office",
                     line);
  if (strcmp(state, "42P01") == 0 || strcmp(state, "3F000") == 0 || strcmp(state, "42883") == 0)
    return ew_refuse(error, "this database holds no shop (%s): 'shop new' lays one", line);
  return ew_fail(error, "the shop could not do it: %s (%s)", line, state);
}

static PGresult *answer(struct ew_pg *pg, gboolean sent, GError **error) {
  gint64 until = deadline();
  if (pg->broken || !sent) {
    gone(pg, error,
         ew_tr(pg->broken ? EW_TEXT("the connection was lost")
                          : EW_TEXT("the connection takes no statement")));
    return NULL;
  }
  PGresult *result = flush(pg, until, error) ? receive(pg, until, error) : NULL;
  if (!result) {
    if (!pg->broken)
      gone(pg, error, ew_tr(EW_TEXT("no answer")));
    return NULL;
  }
  ExecStatusType how = PQresultStatus(result);
  if (how == PGRES_COMMAND_OK || how == PGRES_TUPLES_OK)
    return result;
  tell_result(pg, result, error);
  PQclear(result);
  return NULL;
}

struct values {
  const char *values[MOST];
  int lengths[MOST], formats[MOST];
  char *numbers[MOST];
  int count;
};

static void take_values(struct values *v, const char *types, va_list arguments) {
  char buffer[G_ASCII_DTOSTR_BUF_SIZE];
  for (; types[v->count]; v->count++) {
    int i = v->count;
    g_assert(i < MOST);
    switch (types[i]) {
    case 't': v->values[i] = va_arg(arguments, const char *); break;
    case 'i':
      v->values[i] = v->numbers[i] =
          g_strdup_printf("%" G_GINT64_FORMAT, va_arg(arguments, gint64));
      break;
    case 'd': {
      double value = va_arg(arguments, double);
      if (!isnan(value))
        v->values[i] = v->numbers[i] = g_strdup(g_ascii_dtostr(buffer, (gint)sizeof buffer, value));
      break;
    }
    default: /* characters, not an enumeration */
      g_assert(types[i] == 'b');
      v->values[i] = va_arg(arguments, const void *);
      v->lengths[i] = (int)va_arg(arguments, gsize);
      v->formats[i] = 1;
    }
  }
}

static gboolean send(struct ew_pg *pg, gboolean binary, const char *sql, const char *types,
                     va_list arguments) {
  struct values v = {0};
  take_values(&v, types, arguments);
  gboolean sent = !pg->broken && PQsendQueryParams(pg->connection, sql, v.count, NULL, v.values,
                                                   v.lengths, v.formats, binary) == 1;
  for (int i = 0; i < v.count; i++)
    g_free(v.numbers[i]);
  return sent;
}

static PGresult *ask(struct ew_pg *pg, gboolean binary, GError **error, const char *sql,
                     const char *types, va_list arguments) {
  g_assert(!pg->piped);
  return answer(pg, send(pg, binary, sql, types, arguments), error);
}

PGresult *ew_pg_ask(struct ew_pg *pg, gboolean binary, GError **error, const char *sql,
                    const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  PGresult *result = ask(pg, binary, error, sql, types, arguments);
  va_end(arguments);
  return result;
}

gboolean ew_pg_do(struct ew_pg *pg, GError **error, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  PGresult *result = ask(pg, FALSE, error, sql, types, arguments);
  va_end(arguments);
  gboolean good = result != NULL;
  PQclear(result);
  return good;
}

gboolean ew_pg_run(struct ew_pg *pg, GError **error, const char *sql) {
  g_assert(!pg->piped);
  PGresult *result = answer(pg, !pg->broken && PQsendQuery(pg->connection, sql) == 1, error);
  gboolean good = result != NULL;
  PQclear(result);
  return good;
}

gboolean ew_pg_number(struct ew_pg *pg, gint64 *number, GError **error, const char *sql,
                      const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  PGresult *result = ask(pg, FALSE, error, sql, types, arguments);
  va_end(arguments);
  gboolean good = result != NULL;
  *number = good && PQntuples(result) > 0 ? g_ascii_strtoll(PQgetvalue(result, 0, 0), NULL, 10) : 0;
  PQclear(result);
  return good;
}

/* ---- a queue ---- */

gboolean ew_pg_queue(struct ew_pg *pg, gboolean binary, GError **error, const char *sql,
                     const char *types, ...) {
  va_list arguments;
  g_assert(!pg->synced);
  if (!pg->broken && !pg->piped)
    pg->piped = PQenterPipelineMode(pg->connection) == 1;
  va_start(arguments, types);
  gboolean sent = pg->piped && send(pg, binary, sql, types, arguments);
  va_end(arguments);
  pg->queued += sent;
  return sent || lost(pg, error);
}

/* All that is queued is on its way. */
static gboolean sync_queue(struct ew_pg *pg, GError **error) {
  if (pg->synced)
    return TRUE;
  pg->synced = !pg->broken && PQpipelineSync(pg->connection) == 1;
  return (pg->synced || lost(pg, error)) && flush(pg, deadline(), error);
}

/* The next result, or the NULL that ends those of a statement; *good FALSE with *error: nothing came. */
static PGresult *next_result(struct ew_pg *pg, gboolean *good, GError **error) {
  gint64 until = deadline();
  *good = TRUE;
  while (*good && PQisBusy(pg->connection))
    *good =
        wait_for(pg, POLLIN, until, error) && (PQconsumeInput(pg->connection) || lost(pg, error));
  return *good ? PQgetResult(pg->connection) : NULL;
}

PGresult *ew_pg_next(struct ew_pg *pg, GError **error) {
  gboolean good = pg->queued > 0 && sync_queue(pg, error);
  PGresult *result = good ? next_result(pg, &good, error) : NULL;
  if (!good)
    return NULL;
  pg->queued--;
  PGresult *end = result ? next_result(pg, &good, error) : NULL;
  ExecStatusType how = PQresultStatus(result);
  if (good && !end && (how == PGRES_COMMAND_OK || how == PGRES_TUPLES_OK))
    return result;
  if (good && !result)
    lost(pg, error);
  else if (good && how == PGRES_PIPELINE_ABORTED) /* what failed before it was told */
    ew_fail(error, "the shop could not do it: %s", ew_tr(EW_TEXT("a statement before it failed")));
  else if (good)
    tell_result(pg, result, error);
  PQclear(end);
  PQclear(result);
  return NULL;
}

gboolean ew_pg_settle(struct ew_pg *pg, GError **error) {
  GError *first = NULL;
  gboolean good = TRUE;
  if (!pg->piped)
    return TRUE;
  if (!pg->queued)
    good = sync_queue(pg, &first);
  while (pg->queued > 0 && !pg->broken) {
    PGresult *result = ew_pg_next(pg, first ? NULL : &first);
    good &= result != NULL;
    PQclear(result);
  }
  if (!pg->broken) { /* the mark that ends the queue */
    PQclear(next_result(pg, &good, first ? NULL : &first));
    if (PQexitPipelineMode(pg->connection) != 1)
      lost(pg, first ? NULL : &first);
  }
  pg->queued = 0;
  pg->piped = pg->synced = FALSE;
  if (!first)
    return !pg->broken;
  g_propagate_error(error, first);
  return FALSE;
}
