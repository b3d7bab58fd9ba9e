/* Rows of figures that are at hand already, as a table: what reading the text of ew_frames_text would give, bit by bit,
 * without writing and reading it. */
#pragma once
#include "base/table.h"

typedef struct ew_frames ew_frames;
struct ew_frames {
  char **headings; /* `columns` of them, "Oil pressure [bar]", NULL-terminated; owned */
  gsize rows, columns;
  double *values; /* row by row; NaN: no reading. Owned */
};
void ew_frames_free(struct ew_frames *frames);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_frames, ew_frames_free)

/* The file: a line of headings, then a line a row, separated by commas; an empty cell for no reading. O(figures). */
GBytes *ew_frames_text(const struct ew_frames *frames);
/* Refuses frames without a row, as a file without one is. `name` is used in messages. O(figures). */
struct ew_table *ew_frames_table(const struct ew_frames *frames, const char *name, GError **error);
/* How its columns are called and what they hold, as far as the headings tell; free with ew_table_layout_free. */
struct ew_table_layout *ew_frames_layout(const struct ew_frames *frames);
