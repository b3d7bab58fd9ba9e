/* Whether a pull may be armed: what has to be read, in its window, and above its floor before load. What is
 * absent never counts as good. */
#include "base/error.h"
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

EW_MESSAGE(missing, "desk.channel-missing", EW_CAUTION, "{channel} is missing");
EW_MESSAGE(missing_one, "desk.channel-missing-or-not-fitted", EW_CAUTION,
           "{channel} missing: connect it, or state in the cell's file that it is not fitted "
           "(not_fitted: [{key}])");
EW_MESSAGE(missing_both, "desk.channels-missing-or-not-fitted", EW_CAUTION,
           "{channel} and {other} missing, and one of them is needed: connect it, or state in the "
           "cell's file that it is not fitted (not_fitted: [{key}])");

/* Speed and torque make a pull; the others may be named as not fitted in the cell's file. */
static ew_message *what_is_missing(const struct ew_feed *f) {
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
    struct ew_argument channel = ew_live_say_channel("channel", one);
    if (must[i].always)
      return ew_message(&missing, channel);
    if (one == or)
      return ew_message(&missing_one, channel, ew_say_text("key", ew_channel_facts[one].key));
    g_autofree char *keys =
        g_strdup_printf("%s, %s", ew_channel_facts[one].key, ew_channel_facts[or].key);
    return ew_message(&missing_both, channel, ew_live_say_channel("other", or),
                      ew_say_text("key", keys));
  }
  return NULL;
}

/* Windows of oil and coolant before load; common practice, no source. A channel that is not fitted has
 * no reading, and none is asked of it: what is missing otherwise was refused before. */
EW_MESSAGE(oil_out, "desk.oil-outside-window", EW_CAUTION,
           "oil is at {value}; it must be between {low} and {high}");
EW_MESSAGE(coolant_out, "desk.coolant-outside-window", EW_CAUTION,
           "coolant is at {value}; it must be between {low} and {high}");

static ew_message *what_is_cold_or_hot(const struct ew_feed *f) {
  static const struct {
    enum ew_channel channel;
    const struct ew_message_kind *says;
    double low_c, high_c;
  } windows[] = {{EW_CHANNEL_OIL_TEMPERATURE, &oil_out, 75, 120},
                 {EW_CHANNEL_COOLANT_TEMPERATURE, &coolant_out, 60, 95}};
  for (gsize i = 0; i < G_N_ELEMENTS(windows); i++) {
    double now_c = reading_now(f, windows[i].channel) - 273.15;
    if (isfinite(now_c) && !(now_c >= windows[i].low_c && now_c <= windows[i].high_c))
      return ew_message(
          windows[i].says, ew_say_quantity("value", EW_KIND_TEMPERATURE, now_c + 273.15, 0),
          ew_say_quantity("low", EW_KIND_TEMPERATURE, windows[i].low_c + 273.15, 0),
          ew_say_quantity("high", EW_KIND_TEMPERATURE, windows[i].high_c + 273.15, 0));
  }
  return NULL;
}

EW_MESSAGE(not_cleared, "desk.shut-down-not-cleared", EW_DANGER,
           "a shut-down has not been cleared: {names}");
EW_MESSAGE(not_cleared_before, "desk.earlier-shut-down-not-cleared", EW_DANGER,
           "a shut-down of the session before has not been cleared: {names}");
EW_MESSAGE(not_cleared_by_hand, "desk.shut-down-by-hand-not-cleared", EW_DANGER,
           "a shut-down was asked for by hand and has not been cleared: 'clear all'");
EW_MESSAGE(below_least, "desk.below-least-before-load", EW_DANGER,
           "below the least allowed before load: {alarms}");

/* What has tripped, or is below its floor at this moment, whatever its hold. */
static ew_message *what_alarms_say(const struct ew_session *live) {
  g_autoptr(GString) names = g_string_new(NULL);
  if (live->alarms && ew_alarms_standing(live->alarms, EW_ALARM_SHUT_DOWN, names))
    return ew_message(&not_cleared, ew_say_text("names", names->str));
  if (live->stood)
    return ew_message(&not_cleared_before, ew_say_text("names", live->stood));
  if (live->shut_by_hand)
    return ew_message_plain(&not_cleared_by_hand);
  g_autoptr(GPtrArray) below = ew_messages_new();
  if (live->alarms)
    ew_alarms_below_floor(live->alarms, below);
  return below->len ? ew_message(&below_least, ew_say_messages("alarms", below)) : NULL;
}

EW_MESSAGE(by_hand_until, "desk.disarmed", EW_CAUTION, "disarmed by hand until armed again");

/* What must be there, and in its window, before a pull counts. NULL when nothing is in the way. */
static ew_message *why_not_armed(const struct ew_feed *f) {
  if (f->live->disarmed)
    return ew_message_plain(&by_hand_until);
  ew_message *why = loads_an_engine(f) ? ew_gate_why(f->live->gate) : NULL;
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

EW_MESSAGE(gate_shut, "desk.gate-shut", EW_DANGER, "PULLS WILL NOT BE ARMED: {why}");
EW_MESSAGE(gate_open, "desk.gate-open", EW_NOTE,
           "the build record has no open step before load any more: pulls can be armed");

/* From the gate's thread: at the start, and when the build record has changed the answer. */
void ew_session_gate_says(const ew_message *why, gpointer user) {
  struct ew_session *live = user;
  if (!any_loads_an_engine(live))
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_boolean(&json, "armed", FALSE);
  ew_json_boolean(&json, "record_open", why != NULL);
  ew_session_write_fact(&json, "why", why);
  ew_session_post(live, EW_RECORD_ARMING, &json,
                  why ? ew_message(&gate_shut, ew_say_message("why", why))
                      : ew_message_plain(&gate_open));
}

EW_MESSAGE(armed, "desk.armed", EW_NOTE, "armed: pull under way");
EW_MESSAGE(armed_blind, "desk.armed-not-watched", EW_CAUTION,
           "armed: pull under way; NOT WATCHED: {asleep}");
EW_MESSAGE(not_armed, "desk.not-armed", EW_CAUTION,
           "this pull is not armed and will not be judged: {why}");
EW_MESSAGE(not_armed_blind, "desk.not-armed-not-watched", EW_CAUTION,
           "this pull is not armed and will not be judged: {why}; NOT WATCHED: {asleep}");

static ew_message *armed_message(const ew_message *why, const GPtrArray *asleep) {
  if (!why)
    return asleep->len ? ew_message(&armed_blind, ew_say_messages("asleep", asleep))
                       : ew_message_plain(&armed);
  return asleep->len ? ew_message(&not_armed_blind, ew_say_message("why", why),
                                  ew_say_messages("asleep", asleep))
                     : ew_message(&not_armed, ew_say_message("why", why));
}

static void write_arming(struct ew_json *json, const ew_message *why, const GPtrArray *asleep) {
  ew_json_boolean(json, "armed", why == NULL);
  ew_session_write_fact(json, "why", why);
  ew_messages_write_json(asleep, "asleep", EW_UNITS_SI, json);
}

void ew_feed_settle_arming(struct ew_feed *f) {
  ew_message_free(f->not_armed);
  f->not_armed = why_not_armed(f);
  g_autoptr(GPtrArray) asleep = ew_session_asleep(f->live);
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_text(&json, "source", f->section->source);
  write_arming(&json, f->not_armed, asleep);
  ew_session_post(f->live, EW_RECORD_ARMING, &json, armed_message(f->not_armed, asleep));
}

EW_MESSAGE(chosen_not, "desk.disarmed-now", EW_CAUTION,
           "disarmed by hand: pulls are kept, but not judged, until armed again");
EW_MESSAGE(chosen_in_the_way, "desk.armed-now-but", EW_CAUTION,
           "pulls may be armed; just now one would not be: {why}");
EW_MESSAGE(chosen, "desk.armed-now", EW_NOTE, "pulls will be armed as the load comes on");
EW_MESSAGE(no_source_yet, "desk.no-source-yet", EW_CAUTION, "no source has sent anything yet");
EW_MESSAGE(by_hand, "desk.disarmed-by-hand", EW_CAUTION, "disarmed by hand");

static void tell_chosen(struct ew_session *live, const char *source, const ew_message *why) {
  g_autoptr(GPtrArray) asleep = ew_session_asleep(live);
  struct ew_json json = ew_session_news(EW_RECORD_ARMING);
  ew_json_text(&json, "source", source);
  ew_json_boolean(&json, "disarmed", live->disarmed);
  write_arming(&json, why, asleep);
  ew_session_post_chosen(live, &json,
                         live->disarmed ? ew_message_plain(&chosen_not)
                         : why          ? ew_message(&chosen_in_the_way, ew_say_message("why", why))
                                        : ew_message_plain(&chosen));
}

void ew_session_choose_arming(struct ew_session *live, gboolean arm) {
  live->disarmed = !arm;
  guint reported = 0;
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    if (!f->section)
      continue;
    g_autoptr(ew_message) why = why_not_armed(f);
    tell_chosen(live, f->section->source, why);
    reported++;
  }
  if (reported)
    return;
  g_autoptr(ew_message) why = ew_message_plain(arm ? &no_source_yet : &by_hand);
  tell_chosen(live, NULL, why);
}
