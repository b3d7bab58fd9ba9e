/* One cell of a text table: numbers, missing values, times of day and dates. */
#pragma once
#include <glib.h>

enum ew_cell_kind {
  EW_CELL_EMPTY,  /* nothing, or a mark that says "missing": NaN, NA, -, ?, null ... */
  EW_CELL_NUMBER, /* a finite number */
  EW_CELL_CLOCK,  /* 14:03:22.5: seconds since midnight */
  EW_CELL_DATE,   /* a date with or without time of day, ISO 8601 or day/month/year: Unix seconds */
  EW_CELL_TEXT,   /* anything else */
};

/* How the figures of a column are written. */
struct ew_cell_style {
  char decimal;         /* '.' or ',' */
  char group;           /* the other of the two when it stands between thousands, else 0 */
  gboolean month_first; /* 7/6/2010 is the 6th of July */
};

/* The cell of `size` bytes at `text`, without its quotes; value is set for number, clock and date.
 * Marks between thousands that can be nothing else are always understood (1.234,5 with a decimal comma; 1.234.567;
 * 1'234; 1 234); "1.234" alone only when style.group says so. */
enum ew_cell_kind ew_cell_read(const char *text, gsize size, struct ew_cell_style style,
                               double *value);
