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

/* The cell of `size` bytes at `text`, without its quotes; value is set for number, clock and date.
 * `month_first` reads 7/6/2010 as the 6th of July. */
enum ew_cell_kind ew_cell_read(const char *text, gsize size, char decimal, gboolean month_first,
                               double *value);
