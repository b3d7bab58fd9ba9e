/* A book over a store: opened by its file, or over any class of book/port.h; one transaction at a time, steps within
 * it, and the change log. Times are UTC, ISO 8601, to the second. */
#include "book/book.h"
#include "base/error.h"
#include "book/book_file.h"
#include "book/book_inside.h"
#include "book/origin.h"
#include "book/ship.h"
#include "book/sql.h"
#include "book/sqlite/sqlite.h"
#include <errno.h>
#include <math.h>

char *ew_book_default_path(void) {
  return g_build_filename(g_get_user_data_dir(), "enginewright", "shop.book", NULL);
}

const char *ew_book_path(const struct ew_book *book) {
  return book->path;
}

struct ew_port *ew_book_port(struct ew_book *book) {
  return book->port;
}

struct ew_book *ew_book_over(struct ew_port *port) {
  struct ew_book *book = g_new0(struct ew_book, 1);
  book->port = port;
  book->path = g_strdup("");
  return book;
}

/* A copy of what a shop holds is opened to be read. */
static gboolean look_at_shop(struct ew_book *book, GError **error) {
  struct ew_ship_state state;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  book->reads = g_strcmp0(state.role, "reads") == 0;
  book->read_only |= book->reads;
  ew_ship_state_clear(&state);
  return TRUE;
}

static gboolean make_folder(const char *path, GError **error) {
  g_autofree char *folder = g_path_get_dirname(path);
  return g_mkdir_with_parents(folder, 0700) == 0 ||
         ew_fail(error, "%s: the folder cannot be created: %s", folder, g_strerror(errno));
}

struct ew_book *ew_book_open(const char *path, gboolean create, GError **error) {
  int there = ew_book_file_look(path, error);
  if (there == 0 && !create)
    ew_refuse_with(error, EW_REMEDY_NEW_BOOK, "%s: there is no book here", path);
  if (there < 0 || (there == 0 && !create) ||
      (there == 0 && (!make_folder(path, error) || !ew_book_file_make(path, FALSE, error))))
    return NULL;
  gboolean read_only;
  g_autoptr(GError) problem = NULL;
  struct ew_port *port = ew_sqlite_open(path, there == 0, &read_only, &problem);
  if (port) {
    struct ew_book *book = g_new0(struct ew_book, 1);
    *book = (struct ew_book){.port = port, .path = g_strdup(path), .read_only = read_only};
    if (look_at_shop(book, error))
      return book;
    ew_book_close(book);
    return NULL;
  }
  g_prefix_error(&problem, "%s: ", path);
  g_propagate_error(error, g_steal_pointer(&problem));
  if (there == 0)
    ew_book_file_remove(path);
  return NULL;
}

gboolean ew_book_is_read_only(const struct ew_book *book) {
  return book->read_only;
}

void ew_book_close(struct ew_book *book) {
  if (!book)
    return;
  book->port->class->close(book->port);
  g_free(book->path);
  g_free(book->cell);
  g_free(book->writer);
  g_free(book->zone_name);
  g_clear_pointer(&book->zone, g_time_zone_unref);
  g_free(book);
}

char *ew_time_now(void) {
  g_autoptr(GDateTime) now = g_date_time_new_now_utc();
  return g_date_time_format(now, "%Y-%m-%dT%H:%M:%S.%fZ");
}

double ew_time_parse(const char *text) {
  g_autoptr(GTimeZone) utc = g_time_zone_new_utc();
  g_autoptr(GDateTime) time = text ? g_date_time_new_from_iso8601(text, utc) : NULL;
  return time ? (double)g_date_time_to_unix(time) + g_date_time_get_microsecond(time) / 1e6
              : (double)NAN;
}

const char *ew_book_who(void) {
  return g_getenv("EW_USER") ? g_getenv("EW_USER") : g_get_user_name();
}

gboolean ew_book_log(struct ew_book *book, const char *what, const char *detail, GError **error) {
  g_assert(book->writing); /* each change is logged in the transaction that makes it */
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  return ew_origin_new(book, now, &o, error) &&
         ew_sql_run(book->port, error,
                    "INSERT INTO change_log (at, who, what, detail, " EW_ORIGIN_COLUMNS
                    ") VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    "tttto", now, ew_book_who(), what, detail, &o);
}

void ew_book_write_log(struct ew_book *book, struct ew_json *json) {
  static const char *const keys[] = {"at", "who", "what", "detail"};
  struct ew_port_rows *s = ew_sql_query(
      book->port, NULL, "SELECT at, who, what, detail FROM change_log ORDER BY id", "");
  while (ew_sql_next(s, NULL)) {
    ew_json_open(json, NULL);
    for (int k = 0; k < 4; k++) {
      g_autofree char *text = ew_sql_text(s, k);
      ew_json_text(json, keys[k], text);
    }
    ew_json_close(json);
  }
  ew_sql_done(s);
}
