/* The channels of a pull against time, as they stand after cleaning, thinned for a screen: each stretch of
 * time keeps its least and its greatest value, so that no peak is lost. Flagged samples are told apart. */
#include "base/error.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

#define STRETCHES     500
#define FLAGGED_MOST  200
#define CHANNELS_MOST 8
#define AROUND_S      2.0

static const struct {
  enum ew_flag flag;
  const char *word;
} flags[] = {{EW_FLAG_SPIKE, "spike"},
             {EW_FLAG_DROPOUT, "dropout"},
             {EW_FLAG_FLAT, "flat"},
             {EW_FLAG_SATURATED, "saturated"},
             {EW_FLAG_LOST, "lost"}};

static char *key_of(const struct ew_series_channel *c) {
  const char *key = ew_channel_facts[c->channel].key;
  return c->index > 0 ? g_strdup_printf("%s_%d", key, c->index) : g_strdup(key);
}

static gboolean shown_here(const struct ew_series_channel *c) {
  return c->channel != EW_CHANNEL_TIME && c->channel < EW_CHANNELS_COUNT && c->values;
}

static void write_available(const struct ew_series *series, struct ew_json *json) {
  ew_json_open_array(json, "available");
  for (guint i = 0; i < series->channels_count; i++) {
    const struct ew_series_channel *c = &series->channels[i];
    if (!shown_here(c))
      continue;
    g_autofree char *key = key_of(c);
    ew_json_open(json, NULL);
    ew_json_text(json, "key", key);
    ew_json_text(json, "label", ew_channel_facts[c->channel].label);
    ew_json_integer(json, "index", c->index);
    ew_json_text(json, "heading", c->name);
    ew_json_text(json, "kind", ew_kind_name(ew_channel_facts[c->channel].kind));
    ew_message_write_member(c->why, "why", EW_UNITS_SI, json);
    ew_json_number(json, "lag_s", c->lag_s);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

struct thinned {
  GArray *time_s, *value;
};

static void keep(struct thinned *t, double time_s, double value) {
  g_array_append_val(t->time_s, time_s);
  g_array_append_val(t->value, value);
}

/* Least and greatest of each stretch, in the order in which they came. */
static void thin(const double *time_s, const double *x, gsize first, gsize last,
                 struct thinned *t) {
  gsize stretch = MAX((last - first + STRETCHES - 1) / STRETCHES, 1);
  for (gsize from = first; from < last; from += stretch) {
    gsize to = MIN(from + stretch, last), low = from, high = from;
    for (gsize i = from; i < to; i++) {
      if (isnan(x[low]) || x[i] < x[low])
        low = i;
      if (isnan(x[high]) || x[i] > x[high])
        high = i;
    }
    if (isnan(x[low])) /* a gap stays a gap */
      keep(t, time_s[from], NAN);
    else if (low == high)
      keep(t, time_s[low], x[low]);
    else {
      gsize one = MIN(low, high), two = MAX(low, high);
      keep(t, time_s[one], x[one]);
      keep(t, time_s[two], x[two]);
    }
  }
}

static const char *word_of(guint8 set) {
  for (gsize i = 0; i < G_N_ELEMENTS(flags); i++)
    if (set & flags[i].flag)
      return flags[i].word;
  return NULL;
}

static void write_flagged(const double *time_s, const struct ew_series_channel *c, gsize first,
                          gsize last, struct ew_json *json) {
  guint count = 0;
  ew_json_open_array(json, "flagged");
  for (gsize i = first; c->flags && i < last; i++) {
    if (!c->flags[i] || count++ >= FLAGGED_MOST)
      continue;
    ew_json_open(json, NULL);
    ew_json_number(json, "time_s", time_s[i]);
    ew_json_number(json, "value", c->values[i]);
    ew_json_text(json, "what", word_of(c->flags[i]));
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_integer(json, "flagged_count", count);
}

static void write_channel(const struct ew_series *series, const struct ew_series_channel *c,
                          gsize first, gsize last, struct ew_json *json) {
  g_autofree char *key = key_of(c);
  struct thinned t = {g_array_new(FALSE, FALSE, sizeof(double)),
                      g_array_new(FALSE, FALSE, sizeof(double))};
  thin(series->time_s, c->values, first, last, &t);
  ew_json_open(json, NULL);
  ew_json_text(json, "key", key);
  ew_json_numbers(json, "time_s", (const double *)(void *)t.time_s->data, t.time_s->len);
  ew_json_numbers(json, "value", (const double *)(void *)t.value->data, t.value->len);
  write_flagged(series->time_s, c, first, last, json);
  ew_json_close(json);
  g_array_unref(t.time_s);
  g_array_unref(t.value);
}

static gboolean write_asked(const struct ew_series *series, const char *names, gsize first,
                            gsize last, struct ew_json *json, GError **error) {
  g_auto(GStrv) wanted = g_strsplit(names, ",", -1);
  if (g_strv_length(wanted) > CHANNELS_MOST)
    return ew_refuse(error, "channels: %d at most at once", CHANNELS_MOST);
  ew_json_open_array(json, "series");
  for (int w = 0; wanted[w]; w++) {
    gboolean found = FALSE;
    for (guint i = 0; i < series->channels_count && !found; i++) {
      g_autofree char *key = shown_here(&series->channels[i]) ? key_of(&series->channels[i]) : NULL;
      found = g_strcmp0(key, wanted[w]) == 0;
      if (found)
        write_channel(series, &series->channels[i], first, last, json);
    }
    if (!found)
      return ew_refuse(error, "channels: this recording has no '%.40s'", wanted[w]);
  }
  ew_json_close_array(json);
  return TRUE;
}

/* ?channels=speed,torque: what is asked for; always what there is, and the part that counts. */
gboolean ew_api_channels(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  struct ew_recomputed again;
  const char *names = ew_request_query(r, "channels");
  if (!ew_recompute(s->book, r->id, &again, error))
    return FALSE;
  const struct ew_series *series = again.processed->series;
  const struct ew_segment *part = g_ptr_array_index(again.processed->segments, again.part);
  gsize first = part->first, last = part->last;
  while (first > 0 && series->time_s[first - 1] > series->time_s[part->first] - AROUND_S)
    first--;
  while (last < series->rows && series->time_s[last] < series->time_s[part->last - 1] + AROUND_S)
    last++;
  struct ew_json *json = &reply->json;
  ew_json_integer(json, "pull", r->id);
  ew_json_text(json, "recording", again.recording.name);
  ew_json_boolean(json, "timed", series->timed);
  ew_json_integer(json, "samples", (gint64)(last - first));
  ew_json_number(json, "counts_from_s", series->time_s[part->count_first]);
  ew_json_number(json, "counts_to_s", series->time_s[part->count_last - 1]);
  write_available(series, json);
  gboolean good = write_asked(series, names ? names : "speed,torque", first, last, json, error);
  ew_recomputed_clear(&again);
  return good;
}
