/* Its rows and their sum; where a sensor was never calibrated, that in place of a sum. */
#include "cli/explain_doubt.h"
#include "base/message.h"
#include "cli/command.h"
#include "pull/channel.h"
#include <math.h>

EW_MESSAGE(not_calibrated, "judge.sensor-not-calibrated", EW_CAUTION,
           "{channel}: its sensor was not calibrated when the pull ran, so its uncertainty is not "
           "known and no sum is given (cell calibrate --channel {key} --point TRUE=READ ...)");

/* One step of a temperature is one of a difference. */
static enum ew_kind step_of(enum ew_kind kind) {
  return kind == EW_KIND_TEMPERATURE ? EW_KIND_TEMPERATURE_DIFFERENCE : kind;
}

static const char *label_of(const struct ew_figure_row *row) {
  return row->channel < EW_CHANNELS_COUNT ? ew_tr(ew_channel_facts[row->channel].label) : "";
}

void ew_explain_say_doubt(const struct ew_figure_budget *b, enum ew_kind kind,
                          enum ew_unit_system units) {
  enum ew_kind step = step_of(kind);
  if (b->count)
    ew_say(" 5 uncertainty, standard:");
  for (gsize i = 0; i < b->count; i++) {
    g_autofree char *one = ew_quantity_format(step, units, b->rows[i].standard, 4);
    ew_say("   %-34s %-24s %s", ew_tr(b->rows[i].from), label_of(&b->rows[i]), one);
  }
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (b->unknown & ((guint64)1 << i)) {
      g_autoptr(ew_message) said =
          ew_message(&not_calibrated, ew_say_word("channel", ew_channel_word((enum ew_channel)i)),
                     ew_say_text("key", ew_channel_facts[i].key));
      g_autofree char *text = ew_message_text(said, units);
      ew_say("   %s", text);
    }
  if (isnan(b->expanded))
    return;
  g_autofree char *combined = ew_quantity_format(step, units, b->standard, 4);
  g_autofree char *expanded = ew_quantity_format(step, units, b->expanded, 4);
  ew_say("   combined %s; expanded ± %s at 95 %%", combined, expanded);
}

void ew_explain_write_doubt(const struct ew_figure_budget *b, struct ew_json *json) {
  ew_json_open_array(json, "uncertainty");
  for (gsize i = 0; i < b->count; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "from", b->rows[i].from);
    ew_json_text(json, "channel",
                 b->rows[i].channel < EW_CHANNELS_COUNT ? ew_channel_facts[b->rows[i].channel].key
                                                        : NULL);
    ew_json_number(json, "standard", b->rows[i].standard);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_number(json, "expanded", b->expanded);
  ew_json_open_array(json, "not_calibrated");
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (b->unknown & ((guint64)1 << i))
      ew_json_text(json, NULL, ew_channel_facts[i].key);
  ew_json_close_array(json);
}
