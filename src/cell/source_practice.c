/* The practice cell as a source: practice:?seed=1&rate=100&pace=1&run=COMMAND;COMMAND
 *
 * `pace` is how many times faster than real time it runs, 0 for as fast as the recorder takes it.
 * The commands of `run` are given one after another, each when the one before is done; besides those
 * of the control line there are "wait SECONDS" and "end". */
#include "base/error.h"
#include "base/as_pointer.h"
#include "cell/live_engine.h"
#include "cell/source_kinds.h"
#include <math.h>
#include <string.h>

#define BURST 2000 /* samples in one go */

struct practice_source {
  struct ew_source base;
  struct ew_live_engine *engine;
  double rate_hz, pace, begun_s, wait_until_s;
  gboolean headed;
  char **run;
  guint next;
  GQueue replies; /* ew_message* */
};

static void practice_close(struct ew_source *base) {
  struct practice_source *s = (struct practice_source *)base;
  ew_live_engine_free(s->engine);
  g_strfreev(s->run);
  g_queue_clear_full(&s->replies, (GDestroyNotify)ew_message_free);
  g_free(s);
}

static struct ew_source *practice_open(const char *rest, GError **error) {
  double seed, rate, pace;
  if (!ew_url_number(rest, "seed", 1, 1, 1e9, &seed, error) ||
      !ew_url_number(rest, "rate", 100, 1, 10000, &rate, error) ||
      !ew_url_number(rest, "pace", 1, 0, 1000, &pace, error))
    return NULL;
  g_autofree char *run = ew_url_option(rest, "run");
  struct practice_source *s = g_new0(struct practice_source, 1);
  s->base.fd = -1;
  s->engine = ew_live_engine_new((guint)seed, rate);
  s->rate_hz = rate;
  s->pace = pace;
  s->begun_s = s->wait_until_s = NAN;
  s->run = g_strsplit(run ? run : "", ";", 10000);
  g_queue_init(&s->replies);
  return &s->base;
}

static gboolean practice_send(struct ew_source *base, const char *line) {
  struct practice_source *s = (struct practice_source *)base;
  if (g_str_has_prefix(line, "heartbeat"))
    return TRUE;
  g_queue_push_tail(&s->replies, ew_live_engine_command(s->engine, line));
  return TRUE;
}

static void next_command(struct practice_source *s) {
  if (!s->run[s->next] || !ew_live_engine_ready(s->engine) ||
      ew_live_engine_time_s(s->engine) < s->wait_until_s)
    return;
  const char *line = g_strstrip(s->run[s->next++]);
  if (g_str_has_prefix(line, "wait "))
    s->wait_until_s = ew_live_engine_time_s(s->engine) + g_ascii_strtod(line + 5, NULL);
  else if (strcmp(line, "end") == 0)
    s->base.ended = TRUE;
  else if (*line)
    practice_send(&s->base, line);
}

static void head_once(struct practice_source *s, const struct ew_source_sink *sink) {
  struct ew_source_channels channels = {EW_LIVE_ENGINE_CHANNELS,
                                        ew_as_pointer(ew_live_engine_names),
                                        ew_as_pointer(ew_live_engine_units)};
  if (!s->headed && sink->head)
    sink->head(sink->user, &channels);
  s->headed = TRUE;
}

EW_MESSAGE(over, "cell.practice-over", EW_NOTE, "the practice is over");

static void practice_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct practice_source *s = (struct practice_source *)base;
  double values[EW_LIVE_ENGINE_CHANNELS];
  head_once(s, sink);
  if (isnan(s->begun_s))
    s->begun_s = now_s;
  for (int i = 0; i < BURST && !base->ended; i++) {
    double at = ew_live_engine_time_s(s->engine);
    if (s->pace > 0 && at > (now_s - s->begun_s) * s->pace)
      break;
    next_command(s);
    ew_live_engine_step(s->engine, values);
    sink->frame(sink->user, at, ew_monotonic_s(), values);
    for (ew_message *reply; (reply = g_queue_pop_head(&s->replies));)
      ew_source_tell(sink, EW_SOURCE_REPLY, reply);
  }
  base->wake_s =
      s->pace > 0 ? s->begun_s + ew_live_engine_time_s(s->engine) / s->pace : ew_monotonic_s();
  if (base->ended) {
    g_autoptr(GPtrArray) lesson = ew_live_engine_lesson(s->engine);
    for (guint i = 0; i < lesson->len; i++)
      ew_source_tell(sink, EW_SOURCE_REPLY, ew_message_copy(g_ptr_array_index(lesson, i)));
    ew_source_tell(sink, EW_SOURCE_ENDED, ew_message_plain(&over));
  }
}
const struct ew_source_class ew_source_class_practice = {"practice",
                                                         "practice:?seed=1&rate=100&pace=1",
                                                         "the practice cell: an invented engine",
                                                         practice_open,
                                                         practice_read,
                                                         practice_send,
                                                         practice_close};
