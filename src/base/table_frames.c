/* What is written is read as what it was: each figure is written with as many digits as it takes to be itself again
 * (number.h), so only the headings have to be understood here, by the same function that reads them in a file. Every
 * column holds numbers; a column may have none. Held to the reader of files by tests/unit/base/test_table_frames.c. */
#include "base/table_frames.h"
#include "base/error.h"
#include "base/number.h"
#include "base/table_parts.h"
#include <math.h>

void ew_frames_free(struct ew_frames *frames) {
  if (!frames)
    return;
  g_strfreev(frames->headings);
  g_free(frames->values);
  g_free(frames);
}

GBytes *ew_frames_text(const struct ew_frames *frames) {
  GString *text = g_string_sized_new(65536);
  char buffer[EW_NUMBER_SIZE];
  for (gsize c = 0; c < frames->columns; c++)
    g_string_append_printf(text, "%s%s", c ? "," : "", frames->headings[c]);
  g_string_append_c(text, '\n');
  for (gsize r = 0; r < frames->rows; r++)
    for (gsize c = 0; c < frames->columns; c++) {
      double value = frames->values[r * frames->columns + c];
      if (!isnan(value))
        g_string_append(text, ew_number_write(value, buffer));
      g_string_append_c(text, c + 1 < frames->columns ? ',' : '\n');
    }
  return g_string_free_to_bytes(text);
}

static void fill_column(const struct ew_frames *frames, gsize c, struct ew_column *column,
                        double *values) {
  g_assert(c < frames->columns);
  for (gsize r = 0; r < frames->rows; r++) {
    double value = frames->values[r * frames->columns + c];
    gboolean is = isfinite(value); /* a file has no other figures */
    values[r] = is ? value : (double)NAN;
    column->values += is;
    column->missing += !is;
  }
}

struct ew_table *ew_frames_table(const struct ew_frames *frames, const char *name, GError **error) {
  g_assert(g_strv_length(frames->headings) == frames->columns);
  if (frames->rows == 0 || frames->columns == 0) {
    ew_refuse(error, "%s: no row of figures in it", name);
    return NULL;
  }
  struct ew_table *table = g_new0(struct ew_table, 1);
  table->layout = ew_table_layout_new(frames->headings, frames->columns);
  table->rows = frames->rows;
  table->columns = g_new0(double *, frames->columns);
  for (gsize c = 0; c < frames->columns; c++) {
    table->columns[c] = g_new(double, frames->rows);
    fill_column(frames, c, table->layout->columns->pdata[c], table->columns[c]);
  }
  return table;
}

struct ew_table_layout *ew_frames_layout(const struct ew_frames *frames) {
  return ew_table_layout_new(frames->headings, frames->columns);
}
