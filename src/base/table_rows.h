/* Rows of plain numbers, many at a time: the inner loop of reading a table.
 *
 * The same source is compiled for the baseline, for AVX2 and for AVX-512, and the level is chosen once at
 * run time (ENGINEWRIGHT_SIMD=base|avx2|avx512 forces one, for tests). All levels give the same bits: a
 * number of at most 15 digits is a whole number below 2^53 divided by a power of ten up to 10^15, which
 * rounds once, as strtod does (Clinger 1990). */
#pragma once
#include <glib.h>

#define EW_TABLE_ROWS_PAD 64 /* bytes that may be read before and after the text */

/* What to do with a cell that is not a plain number: TRUE and a value (NaN for none), or FALSE when the whole
 * row must be read with care. */
typedef gboolean (*ew_odd_cell)(gpointer user, guint column, const char *text, gsize size,
                                double *value);

struct ew_rows_format {
  char delimiter, decimal;
  guint columns;
  const guint8 *plain; /* per column: 1 a number, 0 always an odd cell */
  ew_odd_cell odd_cell;
  gpointer user;
};

/* Reads whole rows from `at`, the start of a line, as long as each has exactly its columns and no odd cell
 * is refused; at most `most` rows into `values` (row-major). Returns the number of rows, and in *stop
 * the start of the line that was not read. */
gsize ew_table_rows(const struct ew_rows_format *format, const char *at, const char *end,
                    double *values, gsize most, const char **stop);
