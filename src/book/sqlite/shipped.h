/* The tables whose rows leave the cell, and how a row of each is named: by its number, by a text, or by both. For the
 * files of this folder. What is worked out again from other rows (figures, life) stays, and so do the outbox and what a
 * book knows of its shop. */
#pragma once
#include <glib.h>

struct ew_shipped {
  const char *name;
  const char *number; /* the column that numbers a row; NULL: none */
  const char *key;    /* the column beside it, or in its place; NULL: none */
  gboolean by_rowid; /* the number is the row's own in SQLite: it holds when the row is gone, too */
  const char *
      uid; /* its name that holds everywhere, in SQL; NULL: it is named by the row that it belongs to */
  const char *
      lasting; /* columns that nothing changes once they are written: the same uid, the same of these */
  gboolean
      falls; /* its rows go only with a row of another table in their place, and are not noted as gone */
  const char *
      takes; /* what a row that comes into a copy takes the place of: DELETE, with the row's number as ?1; NULL: nothing */
};
/* In an order in which no row comes before one that it points to. */
extern const struct ew_shipped ew_shipped_tables[];
extern const int ew_shipped_count;
/* -1: its rows stay. */
int ew_shipped_find(const char *table);
