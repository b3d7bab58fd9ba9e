/* The figure as the file has it is reckoned back from the unit that was taken, and tried in the trade's US unit. Ratios and
 * angles are the same everywhere. */
#include "desk/units.h"
#include "base/statistics.h"
#include "base/json_writer.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(in_unit, "desk.channel-in-unit", EW_NOTE, "{channel} in {unit}");

static const char *us_unit(enum ew_kind kind) {
  static const struct {
    enum ew_kind kind;
    const char *unit;
  } rows[] = {{EW_KIND_TORQUE, "lb-ft"},           {EW_KIND_POWER, "hp"},
              {EW_KIND_TEMPERATURE, "degF"},       {EW_KIND_PRESSURE_GAUGE, "psi"},
              {EW_KIND_PRESSURE_ABSOLUTE, "inHg"}, {EW_KIND_MASS_FLOW, "lb/hr"},
              {EW_KIND_VOLUME_FLOW, "cfm"},        {EW_KIND_MEAN_EFFECTIVE_PRESSURE, "psi"},
              {EW_KIND_SPECIFIC_FUEL, "lb/hp-hr"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    if (rows[i].kind == kind)
      return rows[i].unit;
  return NULL;
}

/* Is the middle of the column plausible in that unit? */
static gboolean fits(const struct ew_series *series, const struct ew_series_channel *one,
                     const char *name) {
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  struct ew_unit taken, us;
  gsize absent;
  if (!one->unit || !ew_unit_parse("", one->unit, facts->kind, &taken, NULL) ||
      !ew_unit_parse("", name, facts->kind, &us, NULL) || us.scale == taken.scale)
    return FALSE;
  double middle = ew_median(one->values, series->rows, &absent);
  double inside = ew_to_inside(us, (middle - taken.offset) / taken.scale);
  return inside >= facts->low && inside <= facts->high;
}

const char *ew_us_unit_of(const struct ew_series *series, const struct ew_series_channel *one) {
  if (one->channel >= EW_CHANNELS_COUNT || !one->values || !one->unit_assumed)
    return NULL;
  const char *unit = us_unit(ew_channel_facts[one->channel].kind);
  return unit && fits(series, one, unit) ? unit : NULL;
}

static void write_row(GString *yaml, const struct ew_series_channel *one, const char *unit) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "column", one->name);
  ew_json_text(&json, "unit", unit);
  ew_json_close(&json);
  g_string_append_printf(yaml, "  %s", ew_channel_facts[one->channel].key);
  if (one->index)
    g_string_append_printf(yaml, " %d", one->index);
  g_string_append_printf(yaml, ": %s\n", json.text->str);
  g_string_free(json.text, TRUE);
}

char *ew_us_units_map(const struct ew_series *series, GPtrArray *taken) {
  GString *yaml = g_string_new("channels:\n");
  guint count = 0;
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    const char *unit = ew_us_unit_of(series, one);
    if (!unit)
      continue;
    write_row(yaml, one, unit);
    ew_messages_add(taken,
                    ew_message(&in_unit, ew_say_word("channel", ew_channel_word(one->channel)),
                               ew_say_text("unit", unit)));
    count++;
  }
  return g_string_free(yaml, count == 0);
}

static gboolean is_of_unit(const ew_message *doubt) {
  return ew_message_is(doubt, &ew_doubt_other_unit) || ew_message_is(doubt, &ew_doubt_power_units);
}

/* Do the columns' figures ask for that unit? `doubts`: what they look like. */
static gboolean is_asked_for(const GPtrArray *doubts, enum ew_channel channel, const char *unit) {
  for (guint i = 0; i < doubts->len; i++) {
    const struct ew_argument *other = ew_message_argument(doubts->pdata[i], "other");
    if (is_of_unit(doubts->pdata[i]) && other && other->kind == EW_ARGUMENT_TEXT &&
        strcmp(other->text, unit) == 0 &&
        g_strcmp0(ew_message_subject(doubts->pdata[i]), ew_channel_facts[channel].key) == 0)
      return TRUE;
  }
  return FALSE;
}

gboolean ew_us_units_cover(const struct ew_series *series, const ew_message *doubt) {
  const char *about = ew_message_subject(doubt);
  if (about && g_str_has_prefix(about, EW_DOUBT_RECORDED))
    about += strlen(EW_DOUBT_RECORDED);
  gboolean covered = is_of_unit(doubt);
  for (guint c = 0; about && !covered && c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    covered = ew_us_unit_of(series, one) && strcmp(ew_channel_facts[one->channel].key, about) == 0;
  }
  return covered;
}

ew_message *ew_us_units_doubt(const struct ew_series *series, const GPtrArray *doubts) {
  g_autoptr(GPtrArray) taken = ew_messages_new();
  guint asked = 0;
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    const char *unit = ew_us_unit_of(series, one);
    if (!unit)
      continue;
    asked += is_asked_for(doubts, one->channel, unit);
    ew_messages_add(taken,
                    ew_message(&in_unit, ew_say_word("channel", ew_channel_word(one->channel)),
                               ew_say_text("unit", unit)));
  }
  if (asked < 2)
    return NULL;
  return ew_message_about(ew_message(&ew_doubt_us_units, ew_say_messages("units", taken)), "units");
}
