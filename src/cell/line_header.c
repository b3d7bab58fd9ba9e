/* Words of a line into names and units, by the spellings of base/units and the names of pull/channel. Nothing here
 * keeps state: whether a header is put in force is for line_parser.c. */
#include "cell/line_header.h"
#include "base/number.h"
#include "pull/channel.h"
#include <math.h>
#include <string.h>

char ew_line_delimiter(const char *line, gsize size) {
  guint tabs = 0, semicolons = 0, commas = 0;
  for (gsize i = 0; i < size; i++) {
    tabs += line[i] == '\t';
    semicolons += line[i] == ';';
    commas += line[i] == ',';
  }
  return tabs ? '\t' : semicolons ? ';' : commas ? ',' : ' ';
}

guint ew_line_split(const char *line, gsize size, char delimiter, GArray *cells) {
  g_array_set_size(cells, 0);
  gsize begin = 0;
  for (gsize i = 0; i <= size; i++) {
    gboolean cut = i == size || line[i] == delimiter;
    if (!cut)
      continue;
    guint pair[2] = {(guint)begin, (guint)i};
    if (delimiter != ' ' || i > begin) /* runs of blanks are one */
      g_array_append_vals(cells, pair, 2);
    begin = i + 1;
  }
  return cells->len / 2;
}

double ew_line_figure(const char *text, gsize size, gboolean comma, gboolean *readable) {
  double value = NAN;
  while (size && (*text == ' ' || *text == '\t'))
    text++, size--;
  while (size && (text[size - 1] == ' ' || text[size - 1] == '\t'))
    size--;
  *readable = size == 0 || ew_number_read(text, size, '.', &value) ||
              (comma && ew_number_read(text, size, ',', &value));
  return *readable && size ? value : (double)NAN;
}

static const char *cell_at(const char *line, const GArray *cells, guint i, gsize *size) {
  g_assert(2 * i + 1 < cells->len);
  guint from = g_array_index(cells, guint, 2 * i), to = g_array_index(cells, guint, 2 * i + 1);
  *size = to - from;
  return line + from;
}

guint ew_line_figures(const char *line, const GArray *cells, char delimiter, guint *empty) {
  guint figures = 0;
  *empty = 0;
  for (guint i = 0; i < cells->len / 2; i++) {
    gboolean readable;
    gsize size;
    const char *text = cell_at(line, cells, i, &size);
    double value = ew_line_figure(text, size, delimiter != ',', &readable);
    figures += !isnan(value);
    *empty += readable && isnan(value);
  }
  return figures;
}

gboolean ew_line_has_figures(const char *line, gsize size) {
  char delimiter = ew_line_delimiter(line, size);
  g_autoptr(GArray) cells = g_array_new(FALSE, FALSE, sizeof(guint));
  guint empty;
  ew_line_split(line, size, delimiter, cells);
  return ew_line_figures(line, cells, delimiter, &empty) > 0;
}

/* "Oil pressure [bar]" into its name and its unit. */
static void cut_unit(const char *text, gsize size, char **name, char **unit) {
  char *as_is = g_utf8_validate(text, (gssize)size, NULL) ? g_strndup(text, size) : NULL;
  if (!as_is) /* older loggers write the degree sign so */
    as_is = g_convert(text, (gssize)size, "UTF-8", "WINDOWS-1252", NULL, NULL, NULL);
  g_autofree char *valid = as_is ? as_is : g_utf8_make_valid(text, (gssize)size);
  g_strstrip(valid);
  gsize length = strlen(valid);
  if (length >= 2 && valid[0] == '"' && valid[length - 1] == '"') {
    memmove(valid, valid + 1, length - 2);
    valid[length -= 2] = 0;
  }
  char close = length ? valid[length - 1] : 0;
  char *open = close == ']' ? strrchr(valid, '[') : close == ')' ? strrchr(valid, '(') : NULL;
  *unit = open ? g_strstrip(g_strndup(open + 1, length - (gsize)(open - valid) - 2)) : g_strdup("");
  *name = open ? g_strchomp(g_strndup(valid, (gsize)(open - valid))) : g_strdup(valid);
}

/* Takes name and unit. */
static void add_column(struct ew_line_header *h, guint column, char *name, char *unit) {
  int strength, index;
  struct ew_unit as, time_unit = {EW_KIND_TIME, 1, 0};
  enum ew_channel channel = ew_channel_by_name(name, &strength, &index);
  h->known += channel < EW_CHANNELS_COUNT || (*unit && ew_unit_recognise(unit, &as));
  h->has_units |= *unit != 0;
  if (h->time_column < 0 && channel == EW_CHANNEL_TIME &&
      (!*unit || ew_unit_parse(name, unit, EW_KIND_TIME, &time_unit, NULL))) {
    h->time_unit = time_unit;
    h->time_column = (gint)column;
    h->time_name = name;
    g_free(unit);
    return;
  }
  h->channels.names[h->channels.count] = name;
  h->channels.units[h->channels.count++] = unit;
}

struct ew_line_header *ew_line_header_read(const char *line, const GArray *cells, char delimiter,
                                           gboolean named) {
  struct ew_line_header *h = g_new0(struct ew_line_header, 1);
  guint columns = cells->len / 2;
  h->delimiter = delimiter;
  h->columns = columns;
  h->time_column = -1;
  h->time_unit = (struct ew_unit){EW_KIND_TIME, 1, 0};
  h->clean = TRUE;
  h->channels.names = g_new0(char *, columns + 1);
  h->channels.units = g_new0(char *, columns + 1);
  for (guint i = 0; i < columns; i++) {
    char *name = NULL, *unit = NULL;
    gsize size;
    const char *text = cell_at(line, cells, i, &size);
    if (named) {
      cut_unit(text, size, &name, &unit);
      h->clean &= g_utf8_validate(text, (gssize)size, NULL);
    }
    if (!named || !*name) {
      g_free(name);
      name = g_strdup_printf("column %u", i + 1);
      unit = unit ? unit : g_strdup("");
    }
    add_column(h, i, name, unit);
  }
  g_assert(h->channels.count + (h->time_column >= 0) == columns);
  return h;
}

void ew_line_header_free(struct ew_line_header *h) {
  if (!h)
    return;
  g_strfreev(h->channels.names);
  g_strfreev(h->channels.units);
  g_free(h->time_name);
  g_free(h);
}

gboolean ew_line_header_same(const struct ew_line_header *h, const char *line,
                             const GArray *cells) {
  guint columns = cells->len / 2, at = 0;
  if (columns != h->columns)
    return FALSE;
  for (guint i = 0; i < columns; i++) {
    gsize size;
    const char *text = cell_at(line, cells, i, &size);
    gboolean time = (gint)i == h->time_column;
    g_autofree char *name = NULL, *unit = NULL;
    cut_unit(text, size, &name, &unit);
    if (!time && at >= h->channels.count)
      return FALSE;
    if ((*name && strcmp(name, time ? h->time_name : h->channels.names[at]) != 0) ||
        (*unit && !time && strcmp(unit, h->channels.units[at]) != 0))
      return FALSE;
    at += !time;
  }
  return TRUE;
}

gboolean ew_line_header_strong(const struct ew_line_header *h) {
  return h->clean && 2 * h->known > h->columns;
}

static char *unit_of(const char *line, const GArray *cells, guint i) {
  gsize size;
  const char *text = cell_at(line, cells, i, &size);
  char *unit = g_utf8_make_valid(text, (gssize)size);
  g_strdelimit(unit, "[]()\"", ' ');
  return g_strstrip(unit);
}

static void take_units(struct ew_line_header *h, const char *line, const GArray *cells) {
  guint at = 0;
  for (guint i = 0; i < h->columns; i++) {
    char *unit = unit_of(line, cells, i);
    if ((gint)i == h->time_column) {
      struct ew_unit as;
      if (ew_unit_parse("time", unit, EW_KIND_TIME, &as, NULL))
        h->time_unit = as;
      g_free(unit);
      continue;
    }
    g_free(h->channels.units[at]);
    h->channels.units[at++] = unit;
  }
  g_assert(at == h->channels.count);
  h->has_units = TRUE;
}

gboolean ew_line_header_units(struct ew_line_header *h, const char *line, const GArray *cells,
                              char delimiter) {
  if (h->has_units || delimiter != h->delimiter || cells->len / 2 != h->columns ||
      ew_line_header_same(h, line, cells))
    return FALSE;
  g_autoptr(ew_line_header) as_header = ew_line_header_read(line, cells, delimiter, TRUE);
  guint units = 0;
  for (guint i = 0; i < h->columns; i++) {
    struct ew_unit as;
    g_autofree char *unit = unit_of(line, cells, i);
    units += *unit && ew_unit_recognise(unit, &as);
  }
  /* as names it is worth more than the header so far: that one was a greeting */
  if (as_header->known > MAX(units, h->known))
    return FALSE;
  take_units(h, line, cells);
  return TRUE;
}
