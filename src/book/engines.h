/* The engines of a book, past and present, found by any word kept with them. */
#pragma once
#include "book/book.h"

struct ew_engine_line {
  gint64 id, pulls;
  char *name, *yaml, *added_at, *last_pull_at;
  char *part; /* the record of its build that holds the word: "valve spring, batch 7"; or NULL */
};
/* struct ew_engine_line, newest first. `find`: a word of its description (remarks too), its builds, or
 * of what its parts are called (batch, serial, number); NULL: all. NULL with *error. */
GArray *ew_engine_lines(struct ew_book *book, const char *find, GError **error);

/* This engine is in the cell from now on, and pulls to come are its own. */
gboolean ew_engine_put_in_cell(struct ew_book *book, const char *name, GError **error);
