/* What a live session tells: news in a queue of their own, so that a slow reader of them delays nobody. */
#include "base/error.h"
#include "base/words.h"
#include "desk/record_session.h"

#define NEWS_MOST 20000

static const char *const event_names[] = {
#define X(name, says) says,
    EW_RECORD_NEWS(X)
#undef X
};

struct posted {
  enum ew_record_event event;
  char *json, *text;
};

static gpointer print_news(gpointer user) {
  struct ew_session *live = user;
  for (;;) {
    struct posted *one = g_async_queue_pop(live->news);
    gboolean last = !one->json;
    if (!last)
      live->says(&(struct ew_record_news){one->event, one->json, one->text}, live->user);
    g_free(one->json);
    g_free(one->text);
    g_free(one);
    if (last)
      return NULL;
  }
}

struct ew_json ew_session_news(enum ew_record_event event) {
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autofree char *now = ew_time_now();
  ew_json_open(&json, NULL);
  ew_json_text(&json, "event", event_names[event]);
  ew_json_text(&json, "at", now);
  return json;
}

/* A reader that has fallen far behind: what later news tell again is left out, and rubbish is not
 * heaped up; alarms, pulls, gaps and storage are always told. */
static gboolean may_be_left_out(const struct ew_session *live, enum ew_record_event event) {
  return (event == EW_RECORD_COMMIT || event == EW_RECORD_SOURCE) &&
         g_async_queue_length(live->news) > NEWS_MOST;
}

/* Takes the JSON and the text. */
void ew_session_post(struct ew_session *live, enum ew_record_event event, struct ew_json *json,
                     char *text) {
  ew_json_close(json);
  if (may_be_left_out(live, event)) {
    g_string_free(json->text, TRUE);
    g_free(text);
    return;
  }
  struct posted *one = g_new0(struct posted, 1);
  one->event = event;
  one->json = g_string_free(json->text, FALSE);
  one->text = text;
  g_async_queue_push(live->news, one);
}

void ew_session_store_says(enum ew_store_news news, const struct ew_section *s, const char *why,
                           gpointer user) {
  struct ew_session *live = user;
  enum ew_record_event event = news == EW_STORE_COMMIT ? EW_RECORD_COMMIT : EW_RECORD_STORAGE;
  struct ew_json json = ew_session_news(event);
  char *text = NULL;
  if (s) {
    ew_json_text(&json, "source", s->source);
    ew_json_integer(&json, "recording", s->recording_id);
    ew_json_integer(&json, "stored_rows", s->stored_rows);
    ew_json_number(&json, "last_good_s", s->stored_s);
  }
  if (event == EW_RECORD_STORAGE) {
    ew_json_boolean(&json, "good",
                    news == EW_STORE_GOOD_AGAIN || news == EW_STORE_FAST_AGAIN ||
                        news == EW_STORE_ROOM);
    ew_json_text(&json, "state", ew_store_news_words[news]);
    ew_json_text(&json, "why", why);
    text = news == EW_STORE_GOOD_AGAIN ? g_strdup("storing again; nothing that was waiting is lost")
           : news == EW_STORE_FAST_AGAIN ? g_strdup_printf("the disk keeps up again; %s", why)
           : news == EW_STORE_LOW || news == EW_STORE_ROOM ? g_strdup(why)
           : news == EW_STORE_SLOW ? g_strdup_printf("NOT STORED YET: %s", why)
                                   : g_strdup_printf("NOT STORED: %s", why);
  }
  ew_session_post(live, event, &json, text);
}

void ew_session_pull_says(const struct ew_pull_result *r, gpointer user) {
  struct ew_session *live = user;
  struct ew_json json = ew_session_news(EW_RECORD_PULL);
  ew_json_integer(&json, "recording", r->cut->recording_id);
  ew_json_number(&json, "from_s", r->cut->from_s);
  ew_json_number(&json, "to_s", r->cut->to_s);
  ew_json_boolean(&json, "found", r->pull_id != 0);
  ew_json_boolean(&json, "armed", r->cut->not_armed == NULL);
  ew_json_text(&json, "cut_short", r->cut->cut_short);
  GString *text = g_string_new(NULL);
  if (r->curve) {
    gsize peak = ew_curve_peak(r->curve, r->curve->torque_n_m);
    ew_json_integer(&json, "pull", r->pull_id);
    ew_json_number(&json, "low_rpm", r->curve->low_rpm);
    ew_json_number(&json, "high_rpm", r->curve->high_rpm);
    ew_json_number(&json, "band_mean_n_m", r->curve->band_mean_n_m);
    ew_json_number(&json, "most_torque_n_m", r->curve->torque_n_m[peak]);
    ew_words_append(text, "pull %" G_GINT64_FORMAT ": %.0f to %.0f rpm, mean %.1f N·m", r->pull_id,
                    r->curve->low_rpm, r->curve->high_rpm, r->curve->band_mean_n_m);
  } else
    g_string_append(text, "no pull");
  ew_json_text(&json, "near", r->cut->near_json);
  ew_json_text(&json, "verdict", r->verdict);
  ew_json_integer(&json, "against", r->against);
  ew_json_text(&json, "says", r->line);
  ew_json_text(&json, "why", r->why);
  ew_json_number(&json, "after_s", r->after_s);
  if (r->line || r->why)
    g_string_append_printf(text, "; %s", r->line ? r->line : r->why);
  ew_session_post(live, EW_RECORD_PULL, &json, g_string_free(text, FALSE));
}

void ew_session_news_open(struct ew_session *live) {
  live->news = g_async_queue_new();
  live->printer = g_thread_new("news", print_news, live);
}

void ew_session_news_close(struct ew_session *live) {
  g_async_queue_push(live->news, g_new0(struct posted, 1));
  g_thread_join(live->printer);
  g_async_queue_unref(live->news);
}
