/* Rows of name and figure, in the shop's units and in the language of who asks. Nothing of it is kept here. */
#include "serve/share_now.h"
#include "base/language.h"
#include "base/words.h"
#include "base/zone.h"
#include "book/store.h"
#include "desk/now.h"
#include <math.h>
#include <string.h>

static char *now_state(const struct ew_now *now, GTimeZone *zone) {
  switch (now->state) {
  case EW_NOW_NONE: return g_strdup(ew_tr(EW_TEXT("The engine is not being recorded.")));
  case EW_NOW_SILENT:
    return g_strdup(ew_tr(EW_TEXT("The engine is being recorded; no figures come at the moment.")));
  case EW_NOW_LIVE: break;
  }
  g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc((gint64)ew_instant(now->at));
  g_autoptr(GDateTime) here = utc ? g_date_time_to_timezone(utc, zone) : NULL;
  g_autofree char *at = here ? g_date_time_format(here, "%H:%M:%S") : g_strdup("-");
  return ew_words("Running. As measured at %s, not corrected.", at);
}

static void write_channel(enum ew_channel channel, const struct ew_now *now,
                          enum ew_unit_system units, struct ew_json *json) {
  const struct ew_channel_facts *facts = &ew_channel_facts[channel];
  double inside = now->state == EW_NOW_LIVE ? now->inside[channel] : (double)NAN;
  double shown_as = fabs(ew_shown(facts->kind, units, inside));
  int decimals = shown_as > 1000 ? 0 : shown_as > 20 ? 1 : 2;
  g_autofree char *value =
      isnan(inside) ? g_strdup("–") : ew_quantity_format(facts->kind, units, inside, decimals);
  ew_json_open(json, NULL);
  ew_json_text(json, "name", ew_tr(facts->label));
  ew_json_text(json, "value", value);
  ew_json_close(json);
}

GBytes *ew_share_now(struct ew_book *book, const struct ew_share *share, GError **error) {
  guint64 set;
  struct ew_now now;
  g_autofree char *units_text = NULL;
  GTimeZone *zone = ew_book_zone(book, error);
  if (!zone || !ew_setting_get(book, "units", &units_text, error) ||
      !ew_now_channels("channels", share->channels, &set, error) ||
      !ew_now_read(book, share->engine, (double)g_get_real_time() / 1e6, &now, error))
    return NULL;
  enum ew_unit_system units = g_strcmp0(units_text, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autofree char *state = now_state(&now, zone);
  ew_json_open(&json, NULL);
  ew_json_text(&json, "state", state);
  ew_json_open_array(&json, "rows");
  for (int k = 0; now.state != EW_NOW_NONE && k < EW_CHANNELS_COUNT; k++)
    if (set & ((guint64)1 << k))
      write_channel((enum ew_channel)k, &now, units, &json);
  ew_json_close_array(&json);
  ew_json_close(&json);
  ew_now_clear(&now);
  return g_string_free_to_bytes(json.text);
}
