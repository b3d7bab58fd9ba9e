/* The reading loop: chunks of 256 kB, whole lines in each, cells parsed in place.
 *
 * Rows of figures are read many at a time by table_rows.c; a line that it refuses (gaps, quotes, notes,
 * too few cells) is split and read cell by cell here, and counted. */
#include "base/table.h"
#include "base/error.h"
#include "base/number.h"
#include "base/table_rows.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(cut_row, "base.table-row-cut", EW_CAUTION,
           "the last row (line {line}) is cut off and was left out");
EW_MESSAGE_MANY(skipped_lines, "base.table-lines-skipped", EW_CAUTION,
                "{count} line that is not a row of the table was skipped: line {line}: '{text}'",
                "{count} lines that are not rows of the table were skipped, the first being line "
                "{line}: '{text}'");
EW_MESSAGE_MANY(
    short_lines, "base.table-rows-short", EW_CAUTION,
    "{count} row has fewer cells than there are columns: the rest of it is missing",
    "{count} rows have fewer cells than there are columns: the rest of them is missing");
EW_MESSAGE_MANY(long_lines, "base.table-rows-long", EW_NOTE,
                "{count} row has cells beyond the last column: they were not read",
                "{count} rows have cells beyond the last column: they were not read");
EW_MESSAGE(torn_end, "base.table-end-torn", EW_CAUTION,
           "the file ends inside a character: it may have been cut off");

#define CHUNK        (256u << 10)
#define MOST_LINE    (4u << 20)
#define BLOCK_VALUES 16384u

struct reader {
  const char *name;
  struct ew_table_layout *layout;
  guint columns;
  enum ew_cell_kind *content;
  char *group;   /* per column: the mark between its thousands, or 0 */
  guint8 *plain; /* per column; NULL: every line is read with care */
  ew_table_sink sink;
  gpointer user;
  double *block;
  gsize block_rows, rows_in_block;
  gsize line, rows, skipped, short_rows, long_rows;
  gsize first_skipped_line;
  char *first_skipped;
  GArray *offsets;
  GError **error;
};

static struct ew_cell_style style_of(const struct reader *reader, guint column) {
  return (struct ew_cell_style){reader->layout->decimal, reader->group[column],
                                reader->layout->month_first};
}

/* A cell that is not a plain figure: a gap, a time, a text, a number of many digits. */
static gboolean odd_cell(gpointer user, guint column, const char *text, gsize size, double *value) {
  struct reader *reader = user;
  enum ew_cell_kind content = reader->content[column];
  if (content == EW_CELL_NUMBER && ew_number_read(text, size, reader->layout->decimal, value))
    return TRUE;
  if (content == EW_CELL_TEXT || memchr(text, '"', size))
    return FALSE;
  return ew_cell_read(text, size, style_of(reader, column), value) == content && !isnan(*value);
}

static gboolean flush(struct reader *reader) {
  if (reader->rows_in_block == 0)
    return TRUE;
  gsize rows = reader->rows_in_block;
  g_assert(rows <= reader->block_rows);
  reader->rows_in_block = 0;
  return reader->sink(reader->layout, reader->block, rows, reader->user, reader->error);
}

static gboolean keep_row(struct reader *reader) {
  reader->rows++;
  g_assert(reader->rows_in_block < reader->block_rows);
  return ++reader->rows_in_block < reader->block_rows ? TRUE : flush(reader);
}

static void skip_line(struct reader *reader, const char *line, gsize size) {
  if (reader->skipped++ == 0) {
    g_autofree char *text = g_strndup(line, MIN(size, 60));
    reader->first_skipped = g_utf8_make_valid(text, -1);
    reader->first_skipped_line = reader->line;
  }
}

struct row_counts {
  guint figures, words;
};

static struct row_counts read_cells(struct reader *reader, const char *line, guint cells,
                                    double *row) {
  struct row_counts counts = {0};
  for (guint c = 0; c < reader->columns; c++) {
    row[c] = NAN;
    if (c >= cells)
      continue;
    guint begin = g_array_index(reader->offsets, guint, 2 * c);
    guint end = g_array_index(reader->offsets, guint, 2 * c + 1);
    double value;
    enum ew_cell_kind kind = ew_cell_read(line + begin, end - begin, style_of(reader, c), &value);
    if (kind == reader->content[c] && kind != EW_CELL_TEXT) {
      row[c] = value;
      counts.figures++;
    } else if (kind != EW_CELL_EMPTY && reader->content[c] != EW_CELL_TEXT)
      counts.words++;
  }
  return counts;
}

static void count_cells(struct reader *reader, const double *row, const char *line, guint cells) {
  for (guint c = 0; c < reader->columns; c++) {
    struct ew_column *column = g_ptr_array_index(reader->layout->columns, c);
    if (!isnan(row[c])) {
      column->values++;
      continue;
    }
    double value;
    gboolean empty = c >= cells;
    if (!empty) {
      guint begin = g_array_index(reader->offsets, guint, 2 * c);
      guint end = g_array_index(reader->offsets, guint, 2 * c + 1);
      empty = ew_cell_read(line + begin, end - begin, style_of(reader, c), &value) == EW_CELL_EMPTY;
    }
    if (column->content == EW_CELL_TEXT)
      column->values += !empty;
    else if (empty)
      column->missing++;
    else
      column->unreadable++;
  }
}

/* A line that is not all plain figures: gaps, times, texts, quotes, notes. */
static gboolean slow_row(struct reader *reader, const char *line, gsize size, gboolean last_cut,
                         double *row) {
  guint cells = ew_table_split(line, size, reader->layout->delimiter, reader->offsets);
  struct row_counts counts = read_cells(reader, line, cells, row);
  gboolean short_row = cells < reader->columns;
  if (counts.figures == 0 || counts.words > counts.figures ||
      (short_row && cells * 2 < reader->columns)) {
    skip_line(reader, line, size);
    return TRUE;
  }
  if (short_row && last_cut) {
    ew_messages_add(reader->layout->notes,
                    ew_message(&cut_row, ew_say_count("line", (gint64)reader->line)));
    return TRUE;
  }
  reader->short_rows += short_row;
  reader->long_rows += cells > reader->columns;
  count_cells(reader, row, line, cells);
  return keep_row(reader);
}

static gboolean read_line(struct reader *reader, const char *line, const char *end,
                          gboolean last_cut) {
  reader->line++;
  if (reader->line < reader->layout->data_line)
    return TRUE;
  if (end > line && end[-1] == '\r')
    end--;
  double *row = reader->block + reader->rows_in_block * reader->columns;
  while (end > line && (end[-1] == ' ' || end[-1] == '\x1a'))
    end--;
  return end == line ? TRUE : slow_row(reader, line, (gsize)(end - line), last_cut, row);
}

static void finish_notes(struct reader *reader) {
  GPtrArray *notes = reader->layout->notes;
  if (reader->skipped)
    ew_messages_add(notes,
                    ew_message(&skipped_lines, ew_say_count("count", (gint64)reader->skipped),
                               ew_say_count("line", (gint64)reader->first_skipped_line),
                               ew_say_text("text", reader->first_skipped)));
  if (reader->short_rows)
    ew_messages_add(notes,
                    ew_message(&short_lines, ew_say_count("count", (gint64)reader->short_rows)));
  if (reader->long_rows)
    ew_messages_add(notes,
                    ew_message(&long_lines, ew_say_count("count", (gint64)reader->long_rows)));
}

/* Line ends of the oldest kind (a lone CR) become line feeds. */
static void feed_lines(char *bytes, gsize size) {
  for (char *at = bytes, *end = bytes + size; (at = memchr(at, '\r', (gsize)(end - at)));)
    *at++ = '\n';
}

struct chunk {
  char *memory; /* bytes, with room before and after that may be read */
  char *bytes;
  gsize size, room;
  gboolean ended;
  gboolean lone_cr; /* lines end with a carriage return alone: each becomes a line feed */
  gboolean torn;    /* the file ends inside a character */
};

static gboolean fill_chunk(struct chunk *chunk, GInputStream *input, const char *name,
                           GError **error) {
  if (chunk->size + CHUNK > chunk->room) {
    chunk->room = chunk->size + CHUNK;
    chunk->memory = g_realloc(chunk->memory, chunk->room + 2 * EW_TABLE_ROWS_PAD);
    if (!chunk->bytes)
      memset(chunk->memory, 0, EW_TABLE_ROWS_PAD);
    chunk->bytes = chunk->memory + EW_TABLE_ROWS_PAD;
  }
  gsize got = 0;
  g_autoptr(GError) problem = NULL;
  if (!g_input_stream_read_all(input, chunk->bytes + chunk->size, CHUNK, &got, NULL, &problem)) {
    chunk->torn = g_error_matches(problem, G_IO_ERROR, G_IO_ERROR_PARTIAL_INPUT);
    if (!chunk->torn)
      return ew_refuse(error, "%s: %s", name, problem->message);
  }
  if (chunk->lone_cr)
    feed_lines(chunk->bytes + chunk->size, got);
  chunk->size += got;
  g_assert(chunk->size <= chunk->room);
  memset(chunk->bytes + chunk->size, 0, EW_TABLE_ROWS_PAD);
  chunk->ended = got < CHUNK;
  return TRUE;
}

static const char *charset_of(const guchar *head, gsize size) {
  if (size >= 2 && head[0] == 0xff && head[1] == 0xfe)
    return "UTF-16LE";
  if (size >= 2 && head[0] == 0xfe && head[1] == 0xff)
    return "UTF-16BE";
  if (size >= 8 && head[1] == 0 && head[3] == 0 && head[5] == 0 && head[0] && head[2])
    return "UTF-16LE";
  if (size >= 8 && head[0] == 0 && head[2] == 0 && head[4] == 0 && head[1] && head[3])
    return "UTF-16BE";
  return NULL;
}

static gboolean refuse_line(const struct reader *reader) {
  return ew_refuse(reader->error,
                   "%s, line %zu: longer than 4 MB, so this is not a table of readings",
                   reader->name, reader->line + 1);
}

/* As many whole rows of figures as there are; *at then stands on a line to be read with care. */
static gboolean read_rows(struct reader *reader, const char **at, const char *end) {
  while (reader->plain && reader->line + 1 >= reader->layout->data_line) {
    struct ew_rows_format format = {.delimiter = reader->layout->delimiter,
                                    .decimal = reader->layout->decimal,
                                    .columns = reader->columns,
                                    .plain = reader->plain,
                                    .odd_cell = odd_cell,
                                    .user = reader};
    gsize room = reader->block_rows - reader->rows_in_block;
    g_assert(room > 0 && *at <= end);
    gsize rows = ew_table_rows(&format, *at, end,
                               reader->block + reader->rows_in_block * reader->columns, room, at);
    for (guint c = 0; c < reader->columns && rows; c++)
      ((struct ew_column *)reader->layout->columns->pdata[c])->values += rows;
    reader->rows += rows;
    reader->line += rows;
    reader->rows_in_block += rows;
    if (rows < room)
      return TRUE;
    if (!flush(reader))
      return FALSE;
  }
  return TRUE;
}

/* The lines of the chunk that are whole; keeps the rest for the next one. */
static gboolean read_chunk(struct reader *reader, struct chunk *chunk) {
  const char *at = chunk->bytes, *end = chunk->bytes + chunk->size;
  while (at < end) {
    if (!read_rows(reader, &at, end))
      return FALSE;
    const char *stop = at < end ? memchr(at, '\n', (gsize)(end - at)) : NULL;
    if (at == end || (!stop && !chunk->ended))
      break;
    if ((stop ? stop : end) - at > (gssize)MOST_LINE)
      return refuse_line(reader);
    if (!read_line(reader, at, stop ? stop : end, !stop))
      return FALSE;
    at = stop ? stop + 1 : end;
  }
  g_assert(at <= end);
  gsize rest = (gsize)(end - at);
  if (rest > MOST_LINE)
    return refuse_line(reader);
  memmove(chunk->bytes, at, rest);
  chunk->size = rest;
  return TRUE;
}

static gboolean read_all(struct reader *reader, struct chunk *chunk, GInputStream *input) {
  for (;;) {
    if (!read_chunk(reader, chunk))
      return FALSE;
    if (chunk->ended)
      return flush(reader);
    if (!fill_chunk(chunk, input, reader->name, reader->error))
      return FALSE;
  }
}

/* Do lines end with a CR alone? There are more of those than line feeds (a preamble may have others). */
static gboolean ends_with_lone_cr(const char *bytes, gsize size) {
  gsize lone = 0, feeds = 0;
  for (gsize i = 0; i < size; i++) {
    lone += bytes[i] == '\r' && (i + 1 == size || (bytes[i + 1] != '\n' && bytes[i + 1] != '\r'));
    feeds += bytes[i] == '\n';
  }
  return lone > feeds;
}

/* The file's text as UTF-8 or single bytes, whatever its encoding. A read error stays one. */
static GInputStream *open_text(GInputStream *given, const char **charset, const char *name,
                               GError **error) {
  g_autoptr(GInputStream) input = g_buffered_input_stream_new_sized(given, 4096);
  GBufferedInputStream *buffered = G_BUFFERED_INPUT_STREAM(input);
  g_filter_input_stream_set_close_base_stream(G_FILTER_INPUT_STREAM(input), FALSE);
  gssize got = 1;
  g_autoptr(GError) problem = NULL;
  while (got > 0 && g_buffered_input_stream_get_available(buffered) < 8)
    got = g_buffered_input_stream_fill(buffered, -1, NULL, &problem);
  if (got < 0) {
    ew_refuse(error, "%s: %s", name, problem->message);
    return NULL;
  }
  gsize size;
  const void *head = g_buffered_input_stream_peek_buffer(buffered, &size);
  *charset = charset_of(head, size);
  if (!*charset)
    return g_steal_pointer(&input);
  g_autoptr(GCharsetConverter) converter = g_charset_converter_new("UTF-8", *charset, error);
  if (!converter)
    return NULL;
  g_charset_converter_set_use_fallback(converter, TRUE);
  return g_converter_input_stream_new(input, G_CONVERTER(converter));
}

/* The first chunk of a file, and the layout of what is in it. */
static struct ew_table_layout *open_table(struct chunk *chunk, GInputStream *given,
                                          GInputStream **input, const char *name, GError **error) {
  const char *charset = NULL;
  *input = open_text(given, &charset, name, error);
  if (!*input || !fill_chunk(chunk, *input, name, error))
    return NULL;
  if (chunk->size >= 3 && memcmp(chunk->bytes, "\xef\xbb\xbf", 3) == 0) {
    memmove(chunk->bytes, chunk->bytes + 3, chunk->size - 3);
    chunk->size -= 3;
  }
  chunk->lone_cr = ends_with_lone_cr(chunk->bytes, chunk->size);
  if (chunk->lone_cr)
    feed_lines(chunk->bytes, chunk->size);
  struct ew_table_layout *layout = ew_table_sniff(
      chunk->bytes, MIN(chunk->size, 262144), chunk->ended && chunk->size <= 262144, name, error);
  if (layout && charset)
    layout->encoding = charset;
  return layout;
}

static gboolean run_reader(struct reader *reader, struct chunk *chunk, GInputStream *input) {
  struct ew_table_layout *layout = reader->layout;
  reader->columns = layout->columns->len;
  g_assert(reader->columns > 0);
  reader->content = g_new(enum ew_cell_kind, reader->columns);
  reader->group = g_new(char, reader->columns);
  for (guint c = 0; c < reader->columns; c++) {
    const struct ew_column *column = layout->columns->pdata[c];
    reader->content[c] = column->content;
    reader->group[c] = column->group;
  }
  if (reader->columns > 1 && layout->delimiter != ' ' && layout->delimiter != 0 &&
      layout->delimiter != layout->decimal)
    reader->plain = g_new(guint8, reader->columns);
  for (guint c = 0; reader->plain && c < reader->columns; c++)
    reader->plain[c] = reader->content[c] == EW_CELL_NUMBER;
  reader->block_rows = MAX(BLOCK_VALUES / reader->columns, 1);
  reader->block = g_new(double, reader->block_rows * reader->columns);
  reader->offsets = g_array_new(FALSE, FALSE, sizeof(guint));
  gboolean good = read_all(reader, chunk, input);
  if (good)
    finish_notes(reader);
  g_array_unref(reader->offsets);
  g_free(reader->block);
  g_free(reader->content);
  g_free(reader->group);
  g_free(reader->plain);
  g_free(reader->first_skipped);
  return good;
}

struct ew_table_layout *ew_table_look(const void *bytes, gsize size, const char *name,
                                      GError **error) {
  g_autoptr(GInputStream) given = g_memory_input_stream_new_from_data(bytes, (gssize)size, NULL);
  g_autoptr(GInputStream) input = NULL;
  struct chunk chunk = {0};
  struct ew_table_layout *layout = open_table(&chunk, given, &input, name, error);
  g_free(chunk.memory);
  return layout;
}

struct ew_table_layout *ew_table_stream(GInputStream *given, const char *name, ew_table_sink sink,
                                        gpointer user, GError **error) {
  g_autoptr(GInputStream) input = NULL;
  struct chunk chunk = {0};
  struct ew_table_layout *layout = open_table(&chunk, given, &input, name, error);
  if (layout) {
    struct reader reader = {
        .name = name, .layout = layout, .sink = sink, .user = user, .error = error};
    if (!run_reader(&reader, &chunk, input)) {
      ew_table_layout_free(layout);
      layout = NULL;
    } else if (chunk.torn)
      ew_messages_add(layout->notes, ew_message_plain(&torn_end));
  }
  g_free(chunk.memory);
  return layout;
}

struct gathering {
  GArray **columns;
  gsize rows;
  guint count;
};

static gboolean gather(const struct ew_table_layout *layout, const double *values, gsize rows,
                       gpointer user, GError **error) {
  struct gathering *all = user;
  if (!all->columns) {
    all->count = layout->columns->len;
    all->columns = g_new0(GArray *, all->count);
    for (guint c = 0; c < all->count; c++)
      all->columns[c] = g_array_new(FALSE, FALSE, sizeof(double));
  }
  g_assert(all->count == layout->columns->len);
  if ((all->rows + rows) * all->count > 250000000u)
    return ew_refuse(error, "more than 250 million values: split the recording into shorter files");
  for (guint c = 0; c < all->count; c++) {
    gsize at = all->columns[c]->len;
    g_array_set_size(all->columns[c], (guint)(at + rows));
    double *column = (double *)(void *)all->columns[c]->data + at;
    for (gsize r = 0; r < rows; r++)
      column[r] = values[r * all->count + c];
  }
  all->rows += rows;
  return TRUE;
}

static struct ew_table *read_stream(GInputStream *input, const char *name, GError **error) {
  struct gathering all = {0};
  struct ew_table_layout *layout = ew_table_stream(input, name, gather, &all, error);
  struct ew_table *table = NULL;
  if (layout) {
    table = g_new0(struct ew_table, 1);
    table->layout = layout;
    table->rows = all.rows;
    table->columns = g_new0(double *, layout->columns->len);
  }
  for (guint c = 0; c < all.count; c++) {
    double *data = (double *)(void *)g_array_free(all.columns[c], FALSE);
    if (table)
      table->columns[c] = data;
    else
      g_free(data);
  }
  g_free(all.columns);
  return table;
}

struct ew_table *ew_table_read_bytes(const void *bytes, gsize size, const char *name,
                                     GError **error) {
  g_autoptr(GInputStream) input = g_memory_input_stream_new_from_data(bytes, (gssize)size, NULL);
  return read_stream(input, name, error);
}

void ew_table_free(struct ew_table *table) {
  if (!table)
    return;
  for (guint c = 0; table->columns && c < table->layout->columns->len; c++)
    g_free(table->columns[c]);
  g_free(table->columns);
  ew_table_layout_free(table->layout);
  g_free(table);
}
