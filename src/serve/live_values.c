/* Latest figures by channel, 256 at most, and the arrivals that tell how long each stays fresh. Real time only
 * (monotonic); guarded by live.c's mutex. */
#include "serve/live_values.h"
#include <math.h>
#include <string.h>

#define VALUES        256
#define TOGETHER_US   20000 /* what arrives within so little came in one piece */
#define FRESH_US      ((gint64)500000)
#define FRESH_MOST_US ((gint64)5000000)

struct value {
  char key[48];
  double inside;
  gint64 at_us, began_us; /* of the last sample; of the last piece in which some came */
  gint64 waits_us[3];     /* between pieces; 0: none yet */
  guint next;
};

struct ew_live_values {
  struct value all[VALUES];
  guint count;
};

struct ew_live_values *ew_live_values_new(void) {
  return g_new0(struct ew_live_values, 1);
}

void ew_live_values_free(struct ew_live_values *v) {
  g_free(v);
}

void ew_live_values_reset(struct ew_live_values *v) {
  v->count = 0;
}

/* Several sources speak in turn: each has its own places. NULL when there are too many. */
static struct value *place_of(struct ew_live_values *v, const char *key) {
  for (guint i = 0; i < v->count; i++)
    if (strcmp(v->all[i].key, key) == 0)
      return &v->all[i];
  if (v->count == VALUES)
    return NULL;
  g_assert(v->count < VALUES);
  struct value *one = &v->all[v->count++];
  memset(one, 0, sizeof *one);
  g_strlcpy(one->key, key, sizeof one->key);
  return one;
}

static void note_arrival(struct value *v, gint64 now_us) {
  gint64 wait = v->began_us ? now_us - v->began_us : 0;
  g_assert(wait >= 0 && v->at_us <= now_us); /* the monotonic clock, under one mutex */
  v->at_us = now_us;
  if (v->began_us && wait < TOGETHER_US)
    return;
  if (v->began_us)
    v->waits_us[v->next++ % G_N_ELEMENTS(v->waits_us)] = wait;
  v->began_us = now_us;
}

/* 0 before the second sample. */
static gint64 usual_wait(const struct value *v) {
  gint64 a = v->waits_us[0], b = v->waits_us[1], c = v->waits_us[2];
  if (v->next < G_N_ELEMENTS(v->waits_us))
    return a;
  return MAX(MIN(a, b), MIN(MAX(a, b), c));
}

static gboolean is_fresh(const struct value *v, gint64 now_us) {
  return now_us - v->at_us <= CLAMP(usual_wait(v) * 5 / 2, FRESH_US, FRESH_MOST_US);
}

void ew_live_values_take(struct ew_live_values *v, const GArray *channels, const double *inside,
                         gint64 now_us) {
  char key[48];
  for (guint i = 0; i < channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(channels, struct ew_live_channel, i);
    if (one->channel >= EW_CHANNELS_COUNT || one->second)
      continue;
    if (one->index)
      g_snprintf(key, sizeof key, "%s_%d", ew_channel_facts[one->channel].key, one->index);
    else
      g_strlcpy(key, ew_channel_facts[one->channel].key, sizeof key);
    struct value *value = place_of(v, key);
    if (!value)
      continue;
    value->inside = inside[i];
    if (!isnan(inside[i])) /* an absence is not a sample */
      note_arrival(value, now_us);
  }
}

gboolean ew_live_values_fresh(const struct ew_live_values *v, gint64 now_us) {
  for (guint i = 0; i < v->count; i++)
    if (is_fresh(&v->all[i], now_us))
      return TRUE;
  return FALSE;
}

void ew_live_values_write_json(const struct ew_live_values *v, gint64 now_us,
                               struct ew_json *json) {
  gint64 newest = 0, shortest = 0;
  for (guint i = 0; i < v->count; i++) {
    gint64 wait = usual_wait(&v->all[i]);
    newest = MAX(newest, v->all[i].at_us);
    shortest = wait && (!shortest || wait < shortest) ? wait : shortest;
  }
  ew_json_boolean(json, "fresh", ew_live_values_fresh(v, now_us));
  ew_json_number(json, "age_s", v->count ? (double)(now_us - newest) / 1e6 : (double)NAN);
  ew_json_number(json, "every_s", shortest ? (double)shortest / 1e6 : (double)NAN);
  ew_json_open(json, "values");
  for (guint i = 0; i < v->count; i++) {
    double x = is_fresh(&v->all[i], now_us) ? v->all[i].inside : (double)NAN;
    double step = fabs(x) > 1e4 ? 10 : fabs(x) > 100 ? 0.1 : 1e-4; /* a screen needs no more */
    ew_json_number(json, v->all[i].key, round(x / step) * step);
  }
  ew_json_close(json);
}
