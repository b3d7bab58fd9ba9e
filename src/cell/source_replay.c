/* Plays a stored recording again, 1 to 100 times as fast: its table arrives as lines from a logger do. */
#include "base/error.h"
#include "cell/line_parser.h"
#include <math.h>
#include <string.h>

#define BURST 2000 /* rows in one go */

struct replay_source {
  struct ew_source base;
  struct ew_line_parser *parser;
  GBytes *table;
  gsize at;
  double speed, begun_s, first_s, last_s;
  const struct ew_source_sink *sink; /* while reading */
  struct ew_source_sink through;
};

static void through_head(gpointer user, const struct ew_source_channels *channels) {
  struct replay_source *s = user;
  g_assert(s->sink); /* only while it is read */
  s->sink->head(s->sink->user, channels);
}

static void through_frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct replay_source *s = user;
  if (isnan(s->first_s))
    s->first_s = time_s;
  s->last_s = time_s;
  s->sink->frame(s->sink->user, time_s, arrival_s, values);
}

EW_MESSAGE(over, "cell.replay-over", EW_NOTE, "end of the recording");

static void through_event(gpointer user, enum ew_source_event event, const ew_message *what) {
  struct replay_source *s = user;
  if (s->sink->event)
    s->sink->event(s->sink->user, event, what);
}

static void replay_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct replay_source *s = (struct replay_source *)base;
  gsize size;
  const char *bytes = g_bytes_get_data(s->table, &size);
  s->sink = sink;
  if (isnan(s->begun_s))
    s->begun_s = now_s;
  for (int i = 0; i < BURST && s->at < size; i++) {
    if (!isnan(s->first_s) && s->last_s - s->first_s > (now_s - s->begun_s) * s->speed)
      break;
    const char *end = memchr(bytes + s->at, '\n', size - s->at);
    gsize line = end ? (gsize)(end - bytes) - s->at + 1 : size - s->at;
    ew_line_parser_feed(s->parser, bytes + s->at, line, ew_monotonic_s(), &s->through);
    s->at += line;
  }
  g_assert(s->at <= size);
  base->wake_s = isnan(s->first_s) ? now_s : s->begun_s + (s->last_s - s->first_s) / s->speed;
  if (s->at < size)
    return;
  ew_line_parser_end(s->parser, now_s, &s->through);
  base->ended = TRUE;
  ew_source_tell(s->sink, EW_SOURCE_ENDED, ew_message_plain(&over));
}

static void replay_close(struct ew_source *base) {
  struct replay_source *s = (struct replay_source *)base;
  ew_line_parser_free(s->parser);
  g_bytes_unref(s->table);
  g_free(s);
}

static const struct ew_source_class replay_class = {
    "replay",
    "replay:BOOK#RECORDING?speed=1",
    "a stored recording played again, 1 to 100 times as fast",
    NULL,
    replay_read,
    NULL,
    replay_close};

struct ew_source *ew_source_replay(const char *url, GBytes *table, double speed, GError **error) {
  if (!(speed >= 1 && speed <= 100)) {
    ew_refuse(error, "%s: the speed is a number from 1 to 100", url);
    return NULL;
  }
  struct replay_source *s = g_new0(struct replay_source, 1);
  s->base = (struct ew_source){.class = &replay_class, .url = g_strdup(url), .fd = -1};
  s->parser = ew_line_parser_new();
  ew_line_parser_of_file(s->parser);
  s->table = g_bytes_ref(table);
  s->speed = speed;
  s->begun_s = s->first_s = NAN;
  s->through = (struct ew_source_sink){through_head, through_frame, through_event, s};
  return &s->base;
}
