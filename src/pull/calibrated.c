/* The lines of a calibration record: kept as text by a field table, applied to a series in place, with their uncertainty.
 * true = offset + gain (read - zero); u^2 = u_offset^2 + r^2 u_gain^2 + 2 r cov, r = read - zero (GUM H.3; docs/methods.md).
 * Figures are in the inside unit of their channel, so that the text reads to the same bits. */
#include "pull/calibrated.h"
#include "base/error.h"
#include "base/field.h"
#include <math.h>
#include <string.h>

#define Q(field, member, unit, low, high)                                                          \
  {                                                                                                \
    .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit,                              \
    .offset = offsetof(struct ew_calibrated_line, member), .minimum = low, .maximum = high         \
  }
static const struct ew_field fields[] = {
    Q("gain", gain, NUMBER, 0.5, 2),
    Q("gain_u", gain_u, NUMBER, 0, 1),
    Q("offset", offset, NUMBER, 0, 0),
    Q("offset_u", offset_u, NUMBER, 0, 0),
    Q("covariance", covariance, NUMBER, 0, 0),
    Q("points", points, NUMBER, 0, 0),
    Q("zero", zero, NUMBER, 0, 0),
    Q("zero_age", zero_age_s, TIME, 0, 0),
    Q("hysteresis", hysteresis, NUMBER, 0, 0),
    {.name = "at", .type = EW_FIELD_TEXT, .offset = offsetof(struct ew_calibrated_line, at)},
    {.name = "expired",
     .type = EW_FIELD_BOOLEAN,
     .offset = offsetof(struct ew_calibrated_line, expired)},
};
#undef Q
static const struct ew_fields table = {"a calibration", sizeof(struct ew_calibrated_line), fields,
                                       G_N_ELEMENTS(fields)};

static void line_clear(void *data) {
  ew_fields_clear(&table, data);
}

ew_calibrated *ew_calibrated_new(void) {
  ew_calibrated *c = g_new0(ew_calibrated, 1);
  c->lines = g_array_new(FALSE, TRUE, sizeof(struct ew_calibrated_line));
  g_array_set_clear_func(c->lines, line_clear);
  return c;
}

void ew_calibrated_free(ew_calibrated *c) {
  if (!c)
    return;
  g_array_unref(c->lines);
  g_free(c);
}

static struct ew_calibrated_line *line_of(const ew_calibrated *c, int channel) {
  for (guint i = 0; c && i < c->lines->len; i++)
    if (g_array_index(c->lines, struct ew_calibrated_line, i).channel == channel)
      return &g_array_index(c->lines, struct ew_calibrated_line, i);
  return NULL;
}

const struct ew_calibrated_line *ew_calibrated_find(const ew_calibrated *c,
                                                    enum ew_channel channel) {
  return line_of(c, (int)channel);
}

void ew_calibrated_add(ew_calibrated *c, struct ew_calibrated_line line) {
  struct ew_calibrated_line *there = line_of(c, line.channel);
  g_assert(line.channel >= 0 && line.channel < EW_CHANNELS_COUNT);
  if (!there) {
    g_array_append_val(c->lines, line);
    return;
  }
  line_clear(there);
  *there = line;
}

ew_calibrated *ew_calibrated_copy(const ew_calibrated *c) {
  if (!c)
    return NULL;
  ew_calibrated *copy = ew_calibrated_new();
  for (guint i = 0; i < c->lines->len; i++) {
    const struct ew_calibrated_line *from = &g_array_index(c->lines, struct ew_calibrated_line, i);
    struct ew_calibrated_line to = *from;
    to.at = g_strdup(from->at);
    g_array_append_val(copy->lines, to);
  }
  return copy;
}

double ew_calibrated_value(const struct ew_calibrated_line *line, double read) {
  return line->offset + line->gain * (read - line->zero);
}

double ew_calibrated_u(const struct ew_calibrated_line *line, double read) {
  double r = read - line->zero;
  double square = line->offset_u * line->offset_u + r * r * line->gain_u * line->gain_u +
                  2 * r * line->covariance;
  return sqrt(fmax(square, 0)); /* rounding alone can make it less than nothing */
}

double ew_calibrated_read_of(const struct ew_calibrated_line *line, double value) {
  return (value - line->offset) / line->gain + line->zero;
}

void ew_calibrated_apply(const ew_calibrated *c, struct ew_series *series) {
  for (guint i = 0; i < series->channels_count; i++) {
    struct ew_series_channel *channel = &series->channels[i];
    const struct ew_calibrated_line *line = line_of(c, (int)channel->channel);
    /* one sensor is calibrated: the second of a kind (a cylinder's, a bank's) is another one */
    if (!line || !channel->values || channel != ew_series_find(series, channel->channel, 0))
      continue;
    for (gsize k = 0; k < series->rows; k++)
      channel->values[k] = ew_calibrated_value(line, channel->values[k]);
  }
}

static int by_channel(const void *a, const void *b) {
  const struct ew_calibrated_line *x = a, *y = b;
  return x->channel - y->channel;
}

char *ew_calibrated_write(const ew_calibrated *c) {
  if (!c || c->lines->len == 0)
    return NULL;
  g_autoptr(ew_calibrated) sorted = ew_calibrated_copy(c);
  g_array_sort(sorted->lines, by_channel);
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < sorted->lines->len; i++) {
    const struct ew_calibrated_line *line =
        &g_array_index(sorted->lines, struct ew_calibrated_line, i);
    g_autofree char *record = ew_fields_write_yaml(&table, line);
    g_auto(GStrv) rows = g_strsplit(record, "\n", -1);
    g_string_append_printf(text, "%s:\n", ew_channel_facts[line->channel].key);
    for (int k = 0; rows[k]; k++)
      if (*rows[k])
        g_string_append_printf(text, "  %s\n", rows[k]);
  }
  return g_string_free(text, FALSE);
}

static gboolean read_line(const struct ew_node *node, struct ew_calibrated_line *line,
                          GError **error) {
  enum ew_channel channel = ew_channel_by_key(node->key);
  if (channel == EW_CHANNELS_COUNT)
    return ew_refuse(error, "calibration, line %u: '%s' is not a channel", node->line, node->key);
  if (!ew_fields_read(&table, node, node->key, NULL, line, error))
    return FALSE;
  line->channel = (int)channel;
  line->zero = isnan(line->zero) ? 0 : line->zero;
  if (isfinite(line->gain) && isfinite(line->offset) && isfinite(line->gain_u) &&
      isfinite(line->offset_u) && isfinite(line->covariance) && isfinite(line->zero))
    return TRUE;
  line_clear(line);
  return ew_refuse(
      error, "calibration, line %u: %s needs gain, offset, their uncertainties and covariance",
      node->line, node->key);
}

gboolean ew_calibrated_parse(const char *text, ew_calibrated **calibrated, GError **error) {
  *calibrated = NULL;
  if (!text || !*text)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_parse("calibration", text, strlen(text), error);
  if (!root || root->kind != EW_NODE_MAP)
    return !root ? FALSE : ew_refuse(error, "calibration: write one channel a line with its gain");
  g_autoptr(ew_calibrated) read = ew_calibrated_new();
  for (guint i = 0; i < root->children->len; i++) {
    struct ew_calibrated_line line = {0};
    if (!read_line(g_ptr_array_index(root->children, i), &line, error))
      return FALSE;
    ew_calibrated_add(read, line);
  }
  *calibrated = g_steal_pointer(&read);
  return TRUE;
}
