/* Whether a pull may be armed: what has to be read, in its window, and above its floor before load. What is
 * absent is never taken for good. */
#include "base/error.h"
#include "base/words.h"
#include "desk/record_session.h"
#include <math.h>
#include <string.h>

#define SPEAKS_S 1.0 /* a reading of another source is believed for so long */

/* Neither a practice engine nor a recording played again is the engine that was built. */
static gboolean loads_an_engine(const struct ew_feed *f) {
  return !g_str_has_prefix(f->source->url, "practice:") &&
         !g_str_has_prefix(f->source->url, "replay:");
}

/* The reading of a channel just now: of this source, else of another that is speaking. NaN: none. */
static double reading_now(const struct ew_feed *f, enum ew_channel channel) {
  int own = ew_live_find(f->channels, channel, 0);
  if (own >= 0)
    return f->inside[own];
  for (guint i = 0; i < f->live->feeds->len; i++) {
    const struct ew_feed *other = g_ptr_array_index(f->live->feeds, i);
    int column = other->section ? ew_live_find(other->channels, channel, 0) : -1;
    if (column >= 0 && ew_monotonic_s() - other->arrival_s <= SPEAKS_S)
      return other->inside[column];
  }
  return NAN;
}

static gboolean lacks(const struct ew_session *live, enum ew_channel channel) {
  return live->not_fitted >> channel & 1;
}

/* Speed and torque make a pull; the others may be named as not fitted in the cell's file. */
static char *what_is_missing(const struct ew_feed *f) {
  static const struct {
    enum ew_channel channel, or ;
    gboolean always;
  } must[] = {{EW_CHANNEL_SPEED, EW_CHANNEL_SPEED, TRUE},
              {EW_CHANNEL_TORQUE, EW_CHANNEL_TORQUE, TRUE},
              {EW_CHANNEL_OIL_PRESSURE, EW_CHANNEL_OIL_PRESSURE, FALSE},
              {EW_CHANNEL_OIL_TEMPERATURE, EW_CHANNEL_OIL_TEMPERATURE, FALSE},
              {EW_CHANNEL_COOLANT_TEMPERATURE, EW_CHANNEL_COOLANT_TEMPERATURE, FALSE},
              {EW_CHANNEL_THROTTLE, EW_CHANNEL_MANIFOLD_PRESSURE, FALSE}};
  for (gsize i = 0; i < G_N_ELEMENTS(must); i++) {
    enum ew_channel one = must[i].channel, or = must[i].or ;
    if (isfinite(reading_now(f, one)) || isfinite(reading_now(f, or)) ||
        (!must[i].always && lacks(f->live, one) && lacks(f->live, or)))
      continue;
    const char *label = ew_channel_facts[one].label;
    if (must[i].always)
      return g_strdup_printf("%s is missing", label);
    g_autofree char *both = one == or
                                ? g_strdup(label)
                                : g_strdup_printf("%s and %s", label, ew_channel_facts[or].label);
    g_autofree char *keys =
        one == or ? g_strdup(ew_channel_facts[one].key)
                  : g_strdup_printf("%s, %s", ew_channel_facts[one].key, ew_channel_facts[or].key);
    return g_strdup_printf("%s missing%s: connect it, or say in the cell's file that it is not "
                           "fitted (not_fitted: [%s])",
                           both, one == or ? "" : ", and one of them is needed", keys);
  }
  return NULL;
}

/* Windows of oil and coolant before load; common practice, no source. A channel that is not fitted has
 * no reading, and none is asked of it: what is missing otherwise was refused before. */
static char *what_is_cold_or_hot(const struct ew_feed *f) {
  static const struct {
    enum ew_channel channel;
    const char *word;
    double low_c, high_c;
  } windows[] = {{EW_CHANNEL_OIL_TEMPERATURE, "oil", 75, 120},
                 {EW_CHANNEL_COOLANT_TEMPERATURE, "coolant", 60, 95}};
  for (gsize i = 0; i < G_N_ELEMENTS(windows); i++) {
    double now_c = reading_now(f, windows[i].channel) - 273.15;
    if (isfinite(now_c) && !(now_c >= windows[i].low_c && now_c <= windows[i].high_c))
      return ew_words("%s is at %.0f °C: %.0f to %.0f °C is wanted", windows[i].word, now_c,
                      windows[i].low_c, windows[i].high_c);
  }
  return NULL;
}

/* What stands tripped, or is below its floor at this moment, whatever its hold. */
static char *what_alarms_say(const struct ew_session *live) {
  g_autoptr(GString) names = g_string_new(NULL);
  if (live->alarms && ew_alarms_standing(live->alarms, EW_ALARM_SHUT_DOWN, names))
    return g_strdup_printf("a shut-down has not been cleared: %s", names->str);
  if (live->stood)
    return g_strdup_printf("a shut-down of the session before has not been cleared: %s",
                           live->stood);
  if (live->shut_by_hand)
    return g_strdup("a shut-down was asked for by hand and has not been cleared: 'clear all'");
  if (live->alarms && ew_alarms_below_floor(live->alarms, names))
    return g_strdup_printf("below the least that is allowed before load: %s", names->str);
  return NULL;
}

/* What must be there, and in its window, before a pull counts. NULL when nothing is in the way. */
static char *why_not_armed(const struct ew_feed *f) {
  if (f->live->disarmed)
    return g_strdup("disarmed by hand: 'arm' lets pulls be armed again");
  char *why = loads_an_engine(f) ? ew_gate_why(f->live->gate) : NULL;
  if (!why)
    why = what_is_missing(f);
  if (!why)
    why = what_alarms_say(f->live);
  return why ? why : what_is_cold_or_hot(f);
}

static gboolean any_loads_an_engine(const struct ew_session *live) {
  for (guint i = 0; i < live->feeds->len; i++)
    if (loads_an_engine(g_ptr_array_index(live->feeds, i)))
      return TRUE;
  return FALSE;
}

/* From the gate's thread: at the start, and when the build record has changed the answer. */
void ew_session_gate_says(const char *why, gpointer user) {
  struct ew_session *live = user;
  if (!any_loads_an_engine(live))
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_boolean(&json, "armed", FALSE);
  ew_json_boolean(&json, "record_open", why != NULL);
  ew_json_text(&json, "why", why);
  ew_session_post(
      live, EW_RECORD_ARMING, &json,
      why ? g_strdup_printf("PULLS WILL NOT BE ARMED: %s", why)
          : g_strdup("the build record has no step open before load any more: pulls can be "
                     "armed"));
}

void ew_feed_settle_arming(struct ew_feed *f) {
  g_free(f->not_armed);
  f->not_armed = why_not_armed(f);
  g_autofree char *asleep = ew_session_asleep(f->live);
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_text(&json, "source", f->section->source);
  ew_json_boolean(&json, "armed", f->not_armed == NULL);
  ew_json_text(&json, "why", f->not_armed);
  ew_json_text(&json, "asleep", asleep);
  ew_session_post(f->live, EW_RECORD_ARMING, &json,
                  g_strdup_printf("%s%s%s%s",
                                  f->not_armed ? "this pull is not armed and will not be judged: "
                                               : "armed: pull under way",
                                  f->not_armed ? f->not_armed : "", asleep ? "; NOT WATCHED: " : "",
                                  asleep ? asleep : ""));
}

static void tell_chosen(struct ew_session *live, const char *source, const char *why) {
  gboolean disarmed = live->disarmed;
  g_autofree char *asleep = ew_session_asleep(live);
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_text(&json, "source", source);
  ew_json_boolean(&json, "disarmed", disarmed);
  ew_json_boolean(&json, "armed", why == NULL);
  ew_json_text(&json, "why", why);
  ew_json_text(&json, "asleep", asleep);
  ew_session_post(live, EW_RECORD_ARMING, &json,
                  disarmed ? g_strdup("disarmed by hand: pulls are kept and not judged until 'arm'")
                  : why ? g_strdup_printf("pulls may be armed; just now one would not be: %s", why)
                        : g_strdup("pulls will be armed as the load comes on"));
}

void ew_session_choose_arming(struct ew_session *live, gboolean arm) {
  live->disarmed = !arm;
  guint told = 0;
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    if (!f->section)
      continue;
    g_autofree char *why = why_not_armed(f);
    tell_chosen(live, f->section->source, why);
    told++;
  }
  if (told == 0)
    tell_chosen(live, NULL, arm ? "no source has spoken yet" : "disarmed by hand");
}
