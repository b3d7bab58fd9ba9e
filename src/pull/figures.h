/* A recording is known by its figures: saved again with other line ends, another delimiter, decimal comma or
 * encoding, under another name or with other headings, it is the same evidence. */
#pragma once
#include "base/table_frames.h"

/* SHA-256, in hex, of the numbers of a table as they are parsed: rows, columns, then each column of numbers, bit
 * by bit; a cell without a number is the same NaN wherever it comes from. One more reading of the file. NULL when
 * it is not a table. */
char *ew_figures_digest(const void *bytes, gsize size, const char *name);
/* The same of a table that was read. */
char *ew_figures_digest_table(const struct ew_table *table);
/* The same of rows at hand: that of their text. NULL: there is none, or with *error they could not be read. */
char *ew_figures_digest_frames(const struct ew_frames *frames, GError **error);
