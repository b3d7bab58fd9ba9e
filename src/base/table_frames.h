/* Rows of figures that are at hand already, as a table: what reading the text of ew_frames_text would give, bit by bit,
 * without writing and reading it. */
#pragma once
#include "base/table.h"

typedef struct ew_frames ew_frames;
/* Some rows, row by row, in their order. FALSE ends it: with *error, or because no more are wanted. */
typedef gboolean (*ew_frames_take)(const double *values, gsize rows, gpointer user, GError **error);
/* From where rows are read each time that they are asked for: all of them, from the first. FALSE with *error. */
struct ew_frames_source {
  gboolean (*each)(gpointer self, ew_frames_take take, gpointer user, GError **error);
  void (*free)(gpointer self);
};
struct ew_frames {
  char **headings; /* `columns` of them, "Oil pressure [bar]", NULL-terminated; owned */
  gsize rows, columns;
  double *values; /* row by row; NaN: no reading. Owned. NULL: they are read from `source` */
  const struct ew_frames_source *source;
  gpointer self; /* the source's; owned */
};
void ew_frames_free(struct ew_frames *frames);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_frames, ew_frames_free)

/* All rows, some at a time. O(figures) of time; of memory what the source holds, some blocks. */
gboolean ew_frames_each(const struct ew_frames *frames, ew_frames_take take, gpointer user,
                        GError **error);
/* The file: a line of headings, then a line a row, separated by commas; an empty cell for no reading. O(figures). NULL with
 * *error: a row could not be read. */
GBytes *ew_frames_text(const struct ew_frames *frames, GError **error);
/* SHA-256 of that file, in hex, without having it in memory. */
char *ew_frames_digest(const struct ew_frames *frames, GError **error);
/* Of columns from `first` on as many as `count`, one array a column; what is not finite is NaN. `count` by rows of memory. */
gboolean ew_frames_columns(const struct ew_frames *frames, gsize first, gsize count,
                           double *const *columns, GError **error);
/* Refuses frames without a row, as a file without one is. `name` is used in messages. O(figures) of time; its columns are empty
 * until ew_table_fill is asked for them, for which the frames must be there still. */
struct ew_table *ew_frames_table(const struct ew_frames *frames, const char *name, GError **error);
/* How its columns are called and what they hold, as far as the headings tell; free with ew_table_layout_free. */
struct ew_table_layout *ew_frames_layout(const struct ew_frames *frames);
