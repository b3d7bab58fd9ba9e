/* Build records in the book: one row a record, in the canonical YAML of its field table, with the
 * columns a search needs beside it. A record is never changed: a later one of the same place counts,
 * and a wrong one is withdrawn with a reason and kept. */
#pragma once
#include "book/book.h"
#include "build/build.h"

struct ew_build_row {
  gint64 id, engine_id;
  char *engine, *name, *started_at;
};

/* A new build of an engine; 0 with *error. */
gint64 ew_build_start(struct ew_book *book, gint64 engine_id, const char *name, GError **error);
/* The last build of an engine; *id 0 when it has none. */
gboolean ew_build_current(struct ew_book *book, gint64 engine_id, gint64 *id, GError **error);
/* All builds, or those of one engine (else 0), oldest first; the array clears its rows. */
GArray *ew_build_list(struct ew_book *book, gint64 engine_id, GError **error);

/* Keep a record; *added is FALSE when the very same record stands there already. Takes `at` as given,
 * else the time now. */
gboolean ew_build_keep(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                       const void *record, gboolean *added, GError **error);
/* Every active record, oldest first; NULL with *error. */
struct ew_build *ew_build_load(struct ew_book *book, gint64 build_id, GError **error);
/* Mark a record as withdrawn. Refuses an unknown one and one withdrawn before. */
/* The id of a record that is kept, by what it says; *id 0 when there is none. */
gboolean ew_build_record_id(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                            const void *record, gint64 *id, GError **error);
gboolean ew_build_withdraw(struct ew_book *book, gint64 record_id, const char *why, GError **error);
/* A number that is another one whenever any record was kept, withdrawn or begun since. */
gboolean ew_build_changes(struct ew_book *book, gint64 *count, GError **error);

struct ew_part_row {
  gint64 build_id, record_id;
  char *engine, *build, *what, *batch, *serial, *number, *position;
};
/* The search the other way round: parts and fluids of all builds whose batch, serial or number is
 * that text (without case). The array clears its rows. */
GArray *ew_part_find(struct ew_book *book, const char *text, GError **error);
