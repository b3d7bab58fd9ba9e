/* A channel that two sources give: the one named first counts, for alarms, screen and arming, and
 * goes on counting when it falls silent, so that its loss is seen; only when it has ended the other takes
 * its place. The two are compared: when all that one gave within two seconds lies apart from all that the
 * other gave by more than both doubts, twice in turn, that is an alarm. Delays of a second do not matter
 * so, nor do single outliers of either. */
#include "desk/record_session.h"
#include "base/language.h"
#include <math.h>

#define BUCKET_S 1.0
#define APART    2u /* buckets in turn */

/* Doubts (95 %) where the sensor's own is not given: a share of the figure and a part that is always there,
 * in inside units. Common practice, no source. */
static const struct {
  enum ew_kind kind;
  double share, least;
} usual[] = {{EW_KIND_ROTATIONAL_SPEED, 0.005, 10},
             {EW_KIND_TORQUE, 0.02, 3},
             {EW_KIND_POWER, 0.025, 1000},
             {EW_KIND_TEMPERATURE, 0, 4},
             {EW_KIND_PRESSURE_GAUGE, 0.03, 1e4},
             {EW_KIND_PRESSURE_ABSOLUTE, 0.01, 500},
             {EW_KIND_RATIO, 0, 0.04},
             {EW_KIND_LAMBDA, 0.03, 0.01},
             {EW_KIND_AIR_FUEL_RATIO, 0.03, 0.15},
             {EW_KIND_MASS_FLOW, 0.04, 1e-4}};

static double doubt_of(const struct ew_feed *f, guint column, enum ew_channel channel,
                       double value) {
  const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, column);
  const struct ew_sensor *sensor = f->plan.sensors[column];
  enum ew_kind kind = ew_channel_facts[channel].kind;
  if (sensor && !isnan(sensor->doubt))
    return fabs(ew_to_inside(one->unit, sensor->doubt) - ew_to_inside(one->unit, 0));
  for (gsize i = 0; i < G_N_ELEMENTS(usual); i++)
    if (usual[i].kind == kind)
      return usual[i].share * fabs(value) + usual[i].least;
  return 0.05 * fabs(value);
}

static int column_of(const struct ew_feed *f, enum ew_channel channel, int index) {
  for (guint i = 0; f->channels && i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    if (one->channel == channel && one->index == index)
      return (int)i;
  }
  return -1;
}

EW_MESSAGE(channel_alone, "desk.channel", EW_NOTE, "{channel}");
EW_MESSAGE(channel_numbered, "desk.channel-numbered", EW_NOTE, "{channel} {number}");

static ew_message *name_of(enum ew_channel channel, int index) {
  struct ew_argument what = ew_live_say_channel("channel", channel);
  return index ? ew_message(&channel_numbered, what, ew_say_count("number", index))
               : ew_message(&channel_alone, what);
}

EW_MESSAGE(two_sources, "desk.channel-of-two-sources", EW_NOTE,
           "{channel} comes from two sources: {first} counts because it was named first; {second} "
           "is stored and compared with it");
EW_MESSAGE(counts_now, "desk.channel-counts-now", EW_CAUTION,
           "{channel} counts from {source} from here on: the source named before it has ended or "
           "no longer sends it");
EW_MESSAGE(disagree, "desk.sources-disagree", EW_CAUTION,
           "{one} from {first}, {other} from {second}: they differ by more than both "
           "uncertainties");
EW_MESSAGE(disagree_alarm, "desk.alarm-sources-disagree", EW_CAUTION,
           "NOTICE: CHECK BOTH SENSORS NOW ({channel}: {why})");

static void report(struct ew_session *live, const struct ew_both *both) {
  g_autoptr(ew_message) name = name_of(both->channel, both->index);
  struct ew_json json = ew_session_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", both->second->source->url);
  ew_json_text(&json, "what", "second");
  ew_json_text(&json, "channel", ew_channel_facts[both->channel].key);
  ew_json_integer(&json, "index", both->index);
  ew_json_text(&json, "counts", both->first->source->url);
  ew_session_post(live, EW_RECORD_SOURCE, &json,
                  ew_message(&two_sources, ew_say_message("channel", name),
                             ew_say_text("first", both->first->source->url),
                             ew_say_text("second", both->second->source->url)));
}

static void report_alone(struct ew_session *live, const struct ew_feed *f,
                         const struct ew_live_channel *one) {
  g_autoptr(ew_message) name = name_of(one->channel, one->index);
  struct ew_json json = ew_session_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", f->source->url);
  ew_json_text(&json, "what", "counts now");
  ew_json_text(&json, "channel", ew_channel_facts[one->channel].key);
  ew_json_integer(&json, "index", one->index);
  ew_session_post(live, EW_RECORD_SOURCE, &json,
                  ew_message(&counts_now, ew_say_message("channel", name),
                             ew_say_text("source", f->source->url)));
}

static struct ew_span no_span(void) {
  return (struct ew_span){INFINITY, -INFINITY};
}

static gboolean known_before(const GArray *old, const struct ew_both *both) {
  for (guint i = 0; i < old->len; i++) {
    const struct ew_both *one = &g_array_index(old, struct ew_both, i);
    if (one->first == both->first && one->second == both->second && one->channel == both->channel &&
        one->index == both->index)
      return TRUE;
  }
  return FALSE;
}

static void settle_channel(struct ew_session *live, guint feed, guint column, const GArray *old) {
  struct ew_feed *f = g_ptr_array_index(live->feeds, feed);
  struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, column);
  gboolean was = one->second;
  one->second = FALSE;
  for (guint k = 0; one->channel < EW_CHANNELS_COUNT && k < feed && !one->second; k++) {
    struct ew_feed *first = g_ptr_array_index(live->feeds, k);
    int at = first->source->ended ? -1 : column_of(first, one->channel, one->index);
    if (at < 0)
      continue;
    one->second = TRUE;
    struct ew_both both = {one->channel, one->index, first, f, (guint)at, column};
    both.spans[0][0] = both.spans[0][1] = both.spans[1][0] = both.spans[1][1] = no_span();
    both.bucket_s = NAN;
    if (!known_before(old, &both))
      report(live, &both);
    g_array_append_val(live->both, both);
  }
  if (was && !one->second)
    report_alone(live, f, one);
}

void ew_session_settle_both(struct ew_session *live) {
  g_autoptr(GArray) old = live->both;
  live->both = g_array_new(FALSE, FALSE, sizeof(struct ew_both));
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    for (guint c = 0; f->channels && !f->source->ended && c < f->channels->len; c++)
      settle_channel(live, i, c, old);
  }
}

static struct ew_span whole(const struct ew_span *spans) {
  return (struct ew_span){fmin(spans[0].low, spans[1].low), fmax(spans[0].high, spans[1].high)};
}

/* The alarm's key: "two sources disagree: exhaust_temperature 3". */
static char *alarm_name(const struct ew_both *both) {
  const char *key = ew_channel_facts[both->channel].key;
  return both->index ? g_strdup_printf("two sources disagree: %s %d", key, both->index)
                     : g_strdup_printf("two sources disagree: %s", key);
}

static void judge(struct ew_session *live, struct ew_both *both) {
  struct ew_span a = whole(both->spans[0]), b = whole(both->spans[1]);
  g_autoptr(ew_message) name = name_of(both->channel, both->index);
  g_autofree char *alarm = alarm_name(both);
  double apart = fmax(b.low - a.high, a.low - b.high);
  double doubt = doubt_of(both->first, both->first_column, both->channel, a.high) +
                 doubt_of(both->second, both->second_column, both->channel, b.high);
  gboolean is = a.high >= a.low && b.high >= b.low && apart > doubt; /* both gave something */
  both->apart = is ? both->apart + 1 : 0;
  if (both->apart < APART) {
    if (!is)
      ew_session_lower(live, alarm);
    return;
  }
  enum ew_kind kind = ew_channel_facts[both->channel].kind;
  g_autoptr(ew_message) why =
      ew_message(&disagree, ew_say_quantity("one", kind, (a.low + a.high) / 2, 2),
                 ew_say_text("first", both->first->source->url),
                 ew_say_quantity("other", kind, (b.low + b.high) / 2, 2),
                 ew_say_text("second", both->second->source->url));
  ew_session_raise(
      both->first,
      &(struct ew_raising){alarm, EW_TEXT("check both sensors now"), why, apart, doubt,
                           ew_kind_si(kind)},
      ew_message(&disagree_alarm, ew_say_message("channel", name), ew_say_message("why", why)));
}

void ew_feed_compare(struct ew_feed *f, double arrival_s) {
  for (guint i = 0; i < f->live->both->len; i++) {
    struct ew_both *both = &g_array_index(f->live->both, struct ew_both, i);
    if (both->first != f && both->second != f)
      continue;
    guint who = both->second == f;
    double value = f->inside[who ? both->second_column : both->first_column];
    if (!isnan(value)) {
      struct ew_span *span = &both->spans[who][0];
      *span = (struct ew_span){fmin(span->low, value), fmax(span->high, value)};
    }
    if (isnan(both->bucket_s))
      both->bucket_s = arrival_s;
    if (arrival_s - both->bucket_s < BUCKET_S)
      continue;
    judge(f->live, both);
    both->bucket_s = arrival_s;
    for (guint k = 0; k < 2; k++) {
      both->spans[k][1] = both->spans[k][0];
      both->spans[k][0] = no_span();
    }
  }
}
