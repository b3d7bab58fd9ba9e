/* What a live session reports: facts in a queue of their own, so that a slow reader of them delays nobody. Their JSON has
 * identifier, arguments and the sentence in the language of the process. */
#include "base/error.h"
#include "desk/record_session.h"

#define NEWS_MOST 20000

static const char *const event_names[] = {
#define X(name, says) says,
    EW_RECORD_NEWS(X)
#undef X
};

struct posted {
  enum ew_record_event event;
  char *json, *json_elsewhere;
  ew_message *message;
  int disarmed;
  char *set, *changed, *used;
};

static gpointer print_news(gpointer user) {
  struct ew_session *live = user;
  for (;;) {
    struct posted *one = g_async_queue_pop(live->news);
    gboolean last = !one->json;
    g_autofree char *text = one->message ? ew_message_text(one->message, EW_UNITS_SI) : NULL;
    if (!last)
      live->says(&(struct ew_record_news){one->event, one->json, one->json_elsewhere, one->message,
                                          text, one->disarmed, one->set, one->changed, one->used},
                 live->user);
    g_free(one->json);
    g_free(one->json_elsewhere);
    g_free(one->set);
    g_free(one->changed);
    g_free(one->used);
    ew_message_free(one->message);
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

/* A reader that has fallen far behind: what later news repeat is left out, and garbage is not heaped up; alarms,
 * pulls, gaps and storage are always reported. */
static gboolean may_be_left_out(const struct ew_session *live, enum ew_record_event event) {
  return (event == EW_RECORD_COMMIT || event == EW_RECORD_SOURCE) &&
         g_async_queue_length(live->news) > NEWS_MOST;
}

void ew_session_write_fact(struct ew_json *json, const char *key, const ew_message *message) {
  if (!message) {
    ew_json_text(json, key, NULL);
    return;
  }
  ew_json_open(json, key);
  ew_message_write_json(message, EW_UNITS_SI, json);
  ew_json_close(json);
}

/* `facts` say what the JSON says, for whoever goes by it; its texts are copied. */
static void post(struct ew_session *live, enum ew_record_event event, struct ew_json *json,
                 ew_message *message, struct ew_record_news facts) {
  ew_session_write_fact(json, "message", message);
  ew_json_close(json);
  if (may_be_left_out(live, event)) {
    g_string_free(json->text, TRUE);
    ew_message_free(message);
    return;
  }
  struct posted *one = g_new0(struct posted, 1);
  *one = (struct posted){event,
                         g_string_free(json->text, FALSE),
                         g_strdup(facts.json_elsewhere),
                         message,
                         facts.disarmed,
                         g_strdup(facts.set),
                         g_strdup(facts.changed),
                         g_strdup(facts.used)};
  g_async_queue_push(live->news, one);
}

void ew_session_post(struct ew_session *live, enum ew_record_event event, struct ew_json *json,
                     ew_message *message) {
  post(live, event, json, message, (struct ew_record_news){.disarmed = -1});
}

void ew_session_post_apart(struct ew_session *live, enum ew_record_event event,
                           struct ew_json *json, struct ew_json *elsewhere, ew_message *message) {
  g_autoptr(ew_message) told = ew_message_elsewhere(message);
  ew_session_write_fact(elsewhere, "message", told);
  ew_json_close(elsewhere);
  g_autofree char *text = g_string_free(elsewhere->text, FALSE);
  post(live, event, json, message, (struct ew_record_news){.json_elsewhere = text, .disarmed = -1});
}

void ew_session_post_chosen(struct ew_session *live, struct ew_json *json, ew_message *message) {
  post(live, EW_RECORD_ARMING, json, message, (struct ew_record_news){.disarmed = live->disarmed});
}

void ew_session_post_setup(struct ew_session *live, const char *set, const char *changed,
                           ew_message *message) {
  struct ew_json json = ew_session_news(EW_RECORD_SETUP);
  ew_json_text(&json, "set", set);
  ew_json_text(&json, "changed", changed);
  post(live, EW_RECORD_SETUP, &json, message,
       (struct ew_record_news){.disarmed = -1, .set = set, .changed = changed});
}

EW_MESSAGE(good_again, "desk.stored-again", EW_NOTE,
           "storing again; nothing that was waiting was lost");
EW_MESSAGE(not_yet, "desk.not-stored-yet", EW_DANGER, "NOT STORED YET: {why}");
EW_MESSAGE(not_stored, "desk.not-stored", EW_DANGER, "NOT STORED: {why}");
EW_MESSAGE(unknown_reason, "desk.no-reason", EW_NOTE, "no reason is known");

static ew_message *storage_message(enum ew_store_news news, const ew_message *given) {
  g_autoptr(ew_message) why = given ? ew_message_copy(given) : ew_message_plain(&unknown_reason);
  switch (news) {
  case EW_STORE_GOOD_AGAIN: return ew_message_plain(&good_again);
  case EW_STORE_SLOW: return ew_message(&not_yet, ew_say_message("why", why));
  case EW_STORE_FAILED:
  case EW_STORE_LOST: return ew_message(&not_stored, ew_say_message("why", why));
  case EW_STORE_FAST_AGAIN:
  case EW_STORE_LOW:
  case EW_STORE_ROOM: return g_steal_pointer(&why);
  case EW_STORE_COMMIT:
  case EW_STORE_NEWS_COUNT: break;
  }
  return NULL;
}

void ew_session_store_says(enum ew_store_news news, const struct ew_section *s,
                           const ew_message *why, gpointer user) {
  struct ew_session *live = user;
  enum ew_record_event event = news == EW_STORE_COMMIT ? EW_RECORD_COMMIT : EW_RECORD_STORAGE;
  struct ew_json json = ew_session_news(event);
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
    ew_session_write_fact(&json, "why", why);
  }
  ew_session_post(live, event, &json, storage_message(news, why));
}

EW_MESSAGE(pull, "desk.pull", EW_NOTE, "pull {pull}: {low} to {high} rpm, mean {mean}");
EW_MESSAGE(pull_judged, "desk.pull-judged", EW_NOTE,
           "pull {pull}: {low} to {high} rpm, mean {mean}; {verdict}");
EW_MESSAGE(no_pull, "desk.live-no-pull", EW_NOTE, "no pull");
EW_MESSAGE(no_pull_because, "desk.live-no-pull-because", EW_CAUTION, "no pull; {verdict}");

static ew_message *pull_message(const struct ew_pull_result *r) {
  const ew_message *verdict = r->line ? r->line : r->why;
  if (!r->curve)
    return verdict ? ew_message(&no_pull_because, ew_say_message("verdict", verdict))
                   : ew_message_plain(&no_pull);
  struct ew_argument id = ew_say_count("pull", r->pull_id),
                     low = ew_say_figure("low", r->curve->low_rpm, 0),
                     high = ew_say_figure("high", r->curve->high_rpm, 0),
                     mean = ew_say_quantity("mean", EW_KIND_TORQUE, r->curve->band_mean_n_m, 1);
  return verdict ? ew_message(&pull_judged, id, low, high, mean, ew_say_message("verdict", verdict))
                 : ew_message(&pull, id, low, high, mean);
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
  if (r->curve) {
    gsize peak = ew_curve_peak(r->curve, r->curve->torque_n_m);
    ew_json_integer(&json, "pull", r->pull_id);
    ew_json_number(&json, "low_rpm", r->curve->low_rpm);
    ew_json_number(&json, "high_rpm", r->curve->high_rpm);
    ew_json_number(&json, "band_mean_n_m", r->curve->band_mean_n_m);
    ew_json_number(&json, "most_torque_n_m", r->curve->torque_n_m[peak]);
  }
  ew_json_text(&json, "near", r->cut->near_json);
  ew_json_text(&json, "verdict", r->verdict);
  ew_json_integer(&json, "against", r->against);
  ew_session_write_fact(&json, "says", r->line);
  ew_session_write_fact(&json, "why", r->why);
  ew_json_number(&json, "after_s", r->after_s);
  post(live, EW_RECORD_PULL, &json, pull_message(r),
       (struct ew_record_news){.disarmed = -1, .used = r->used});
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
