/* The list of engines with what it is searched by, and which of them stands in the cell. One query for the list,
 * whatever its length. */
#include "book/engines.h"
#include "book/sql.h"
#include "book/store.h"

#define DB ew_book_port(book)
/* lower() of SQLite knows ASCII only; a word in other letters is found as it was typed */
#define HAS(column) "instr(lower(coalesce(" column ", '')), ?1) > 0"
#define PART                                                                                       \
  "FROM build_record r JOIN build b ON b.id = r.build_id WHERE b.engine_id = e.id AND "            \
  "r.withdrawn IS NULL AND (" HAS("r.batch") " OR " HAS("r.serial") " OR " HAS(                    \
      "r.number") " OR " HAS("r.item") ")"

static void line_clear(gpointer data) {
  struct ew_engine_line *l = data;
  g_free(l->name);
  g_free(l->yaml);
  g_free(l->added_at);
  g_free(l->last_pull_at);
  g_free(l->part);
}

GArray *ew_engine_lines(struct ew_book *book, const char *find, GError **error) {
  g_autofree char *word = find ? g_utf8_strdown(find, -1) : g_strdup("");
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT e.id, e.name, e.yaml, e.added_at,"
      " (SELECT count(*) FROM pull p WHERE p.engine_id = e.id),"
      " (SELECT max(at) FROM pull p WHERE p.engine_id = e.id),"
      " CASE WHEN ?1 = '' THEN NULL ELSE (SELECT coalesce(r.item, r.kind) || coalesce(', batch ' "
      "|| "
      "r.batch, '') || coalesce(', serial ' || r.serial, '') || coalesce(', number ' || r.number, "
      "'') " PART " LIMIT 1) END "
      "FROM engine e WHERE ?1 = '' OR " HAS("e.name") " OR " HAS(
          "e.yaml") " OR EXISTS (SELECT 1 "
                    "FROM build b WHERE b.engine_id = e.id AND " HAS(
                        "b.name") ") OR EXISTS (SELECT 1 FROM "
                                  "build_record r JOIN build b ON b.id = r.build_id WHERE "
                                  "b.engine_id = e.id AND r.withdrawn IS "
                                  "NULL AND " HAS("r.yaml") ") ORDER BY e.id DESC",
      "t", word);
  if (!s)
    return NULL;
  GArray *lines = g_array_new(FALSE, TRUE, sizeof(struct ew_engine_line));
  g_array_set_clear_func(lines, line_clear);
  while (ew_sql_next(s, error)) {
    struct ew_engine_line one = {.id = ew_sql_int(s, 0),
                                 .name = ew_sql_text(s, 1),
                                 .yaml = ew_sql_text(s, 2),
                                 .added_at = ew_sql_text(s, 3),
                                 .pulls = ew_sql_int(s, 4),
                                 .last_pull_at = ew_sql_text(s, 5),
                                 .part = ew_sql_text(s, 6)};
    g_array_append_val(lines, one);
  }
  ew_sql_done(s);
  return lines;
}

gboolean ew_engine_put_in_cell(struct ew_book *book, const char *name, GError **error) {
  return ew_setting_set(book, "engine_in_cell", name, error);
}
