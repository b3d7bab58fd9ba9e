/* What is written is read as what it was: each figure is written with as many digits as it takes to be itself again
 * (number.h), so only the headings have to be understood here, by the same function that reads them in a file. Every
 * column holds numbers; a column may have none. Held to the reader of files by tests/unit/base/test_table_frames.c.
 *
 * A pull of minutes of many channels is hundreds of megabytes: nothing here holds all of its rows but who asks for all of its text. */
#include "base/table_frames.h"
#include "base/error.h"
#include "base/number.h"
#include "base/table_parts.h"
#include <math.h>

#define PIECE 65536u /* of a text, at a time */

void ew_frames_free(struct ew_frames *frames) {
  if (!frames)
    return;
  g_strfreev(frames->headings);
  g_free(frames->values);
  if (frames->source)
    frames->source->free(frames->self);
  g_free(frames);
}

gboolean ew_frames_each(const struct ew_frames *frames, ew_frames_take take, gpointer user,
                        GError **error) {
  g_assert(!frames->values || !frames->source);
  if (frames->source)
    return frames->source->each(frames->self, take, user, error);
  return frames->rows == 0 || take(frames->values, frames->rows, user, error);
}

struct writing {
  GString *text;
  GChecksum *digest; /* NULL: the text is kept */
  gsize columns;
};

static void write_row(GString *text, const double *row, gsize columns) {
  char buffer[EW_NUMBER_SIZE];
  for (gsize c = 0; c < columns; c++) {
    if (!isnan(row[c]))
      g_string_append(text, ew_number_write(row[c], buffer));
    g_string_append_c(text, c + 1 < columns ? ',' : '\n');
  }
}

static void hand_over(struct writing *w) {
  if (!w->digest)
    return;
  g_checksum_update(w->digest, (const guchar *)w->text->str, (gssize)w->text->len);
  g_string_truncate(w->text, 0);
}

static gboolean write_rows(const double *values, gsize rows, gpointer user, GError **error) {
  (void)error;
  struct writing *w = user;
  for (gsize r = 0; r < rows; r++) {
    write_row(w->text, values + r * w->columns, w->columns);
    if (w->text->len > PIECE)
      hand_over(w);
  }
  return TRUE;
}

static gboolean write_all(const struct ew_frames *frames, struct writing *w, GError **error) {
  for (gsize c = 0; c < frames->columns; c++)
    g_string_append_printf(w->text, "%s%s", c ? "," : "", frames->headings[c]);
  g_string_append_c(w->text, '\n');
  gboolean good = ew_frames_each(frames, write_rows, w, error);
  hand_over(w);
  return good;
}

GBytes *ew_frames_text(const struct ew_frames *frames, GError **error) {
  struct writing w = {g_string_sized_new(PIECE), NULL, frames->columns};
  if (write_all(frames, &w, error))
    return g_string_free_to_bytes(w.text);
  g_string_free(w.text, TRUE);
  return NULL;
}

char *ew_frames_digest(const struct ew_frames *frames, GError **error) {
  g_autoptr(GChecksum) digest = g_checksum_new(G_CHECKSUM_SHA256);
  struct writing w = {g_string_sized_new(PIECE), digest, frames->columns};
  gboolean good = write_all(frames, &w, error);
  g_string_free(w.text, TRUE);
  return good ? g_strdup(g_checksum_get_string(digest)) : NULL;
}

/* A file has no other figures. */
static double of_file(double value) {
  return isfinite(value) ? value : (double)NAN;
}

struct filling {
  gsize all, first, count, at;
  double *const *columns;
};

static gboolean fill_rows(const double *values, gsize rows, gpointer user, GError **error) {
  (void)error;
  struct filling *f = user;
  for (gsize c = 0; c < f->count; c++)
    for (gsize r = 0; f->columns[c] && r < rows; r++)
      f->columns[c][f->at + r] = of_file(values[r * f->all + f->first + c]);
  f->at += rows;
  return TRUE;
}

gboolean ew_frames_columns(const struct ew_frames *frames, gsize first, gsize count,
                           double *const *columns, GError **error) {
  g_assert(first + count <= frames->columns);
  struct filling f = {frames->columns, first, count, 0, columns};
  gboolean good = ew_frames_each(frames, fill_rows, &f, error);
  g_assert(!good || f.at == frames->rows);
  return good;
}

static gboolean count_rows(const double *values, gsize rows, gpointer user, GError **error) {
  (void)error;
  const struct ew_table *table = user;
  gsize columns = table->layout->columns->len;
  for (gsize c = 0; c < columns; c++) {
    struct ew_column *column = g_ptr_array_index(table->layout->columns, c);
    for (gsize r = 0; r < rows; r++) {
      gboolean is = isfinite(values[r * columns + c]);
      column->values += is;
      column->missing += !is;
    }
  }
  return TRUE;
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
  table->frames = frames;
  if (ew_frames_each(frames, count_rows, table, error))
    return table;
  ew_table_free(table);
  return NULL;
}

gboolean ew_table_fill(struct ew_table *table, const gboolean *wanted, GError **error) {
  if (!table->frames)
    return TRUE;
  gsize columns = table->layout->columns->len;
  for (gsize c = 0; c < columns; c++)
    if (wanted[c] && !table->columns[c])
      table->columns[c] = g_new(double, table->rows);
  return ew_frames_columns(table->frames, 0, columns, table->columns, error);
}

struct ew_table_layout *ew_frames_layout(const struct ew_frames *frames) {
  return ew_table_layout_new(frames->headings, frames->columns);
}
