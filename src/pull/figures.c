/* SHA-256 over the number of rows and each column of numbers in its place, with -0 as 0 and every NaN alike. How the
 * file was saved, its headings and its columns of text don't count; one changed figure does. O(figures). */
#include "pull/figures.h"
#include "base/table.h"
#include <math.h>
#include <string.h>

#define CHUNK 4096
#define HELD                                                                                       \
  (2u << 20) /* figures of columns in memory at a time; rows are read again for the next ones */

static void add_number(GChecksum *sum, guint64 number) {
  guint64 little = GUINT64_TO_LE(number);
  g_checksum_update(sum, (const guchar *)&little, sizeof little);
}

static void add_column(GChecksum *sum, const double *values, gsize rows) {
  guint64 bits[CHUNK];
  for (gsize at = 0; at < rows; at += CHUNK) {
    gsize count = MIN(rows - at, CHUNK);
    for (gsize i = 0; i < count; i++) {
      double one = isnan(values[at + i]) ? (double)NAN : values[at + i] + 0.0; /* -0 is 0 */
      memcpy(&bits[i], &one, sizeof one);
      bits[i] = GUINT64_TO_LE(bits[i]);
    }
    g_checksum_update(sum, (const guchar *)bits, (gssize)(count * sizeof bits[0]));
  }
}

char *ew_figures_digest_table(const struct ew_table *table) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  guint columns = table->layout->columns->len;
  add_number(sum, table->rows);
  for (guint c = 0; c < columns; c++) {
    const struct ew_column *column = g_ptr_array_index(table->layout->columns, c);
    if (column->content != EW_CELL_NUMBER)
      continue;
    add_number(sum, c);
    add_column(sum, table->columns[c], table->rows);
  }
  return g_strdup(g_checksum_get_string(sum));
}

char *ew_figures_digest(const void *bytes, gsize size, const char *name) {
  struct ew_table *table = ew_table_read_bytes(bytes, size, name, NULL);
  char *digest = table ? ew_figures_digest_table(table) : NULL;
  ew_table_free(table);
  return digest;
}

static gboolean add_columns(GChecksum *sum, const struct ew_frames *frames, gsize first,
                            gsize count, GError **error) {
  g_autofree double *values = g_new(double, count * frames->rows);
  g_autofree double **columns = g_new(double *, count);
  for (gsize c = 0; c < count; c++)
    columns[c] = values + c * frames->rows;
  if (!ew_frames_columns(frames, first, count, columns, error))
    return FALSE;
  for (gsize c = 0; c < count; c++) {
    add_number(sum, first + c);
    add_column(sum, columns[c], frames->rows);
  }
  return TRUE;
}

char *ew_figures_digest_frames(const struct ew_frames *frames, GError **error) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  gsize step = MAX(HELD / MAX(frames->rows, 1), 1);
  if (frames->rows == 0 || frames->columns == 0)
    return NULL;
  add_number(sum, frames->rows);
  for (gsize c = 0; c < frames->columns; c += step)
    if (!add_columns(sum, frames, c, MIN(step, frames->columns - c), error))
      return NULL;
  return g_strdup(g_checksum_get_string(sum));
}
