/* The control line of a live session. What may not be done in a pull is refused here, whoever asks: in a
 * pull a person may end it, mark it, ask for a shut-down, or stop recording; nothing else. */
#include "base/error.h"
#include "base/words.h"
#include "desk/record_session.h"
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LINES_MOST 65536

/* Each takes what stands behind the word ("" for a word that stands alone). */
typedef void (*control_does)(struct ew_session *live, const char *text);

static void mark(struct ew_session *live, const char *text) {
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    if (!f->section)
      continue;
    ew_store_mark(live->store, f->section, f->last_s, text);
    struct ew_json json = ew_session_news(EW_RECORD_MARK);
    ew_json_text(&json, "source", f->section->source);
    ew_json_number(&json, "time_s", f->last_s);
    ew_json_text(&json, "text", text);
    ew_session_post(live, EW_RECORD_MARK, &json, ew_words("mark at %.2f s: %s", f->last_s, text));
  }
}

static void refuse(struct ew_session *live, const char *line, const char *why) {
  g_autofree char *shown = g_utf8_make_valid(line, -1);
  for (char *c = shown; *c; c++) /* it came from anywhere: nothing of it steers a terminal */
    if (g_ascii_iscntrl(*c))
      *c = '?';
  struct ew_json json = ew_session_news(EW_RECORD_REFUSED);
  ew_json_text(&json, "line", shown);
  ew_json_text(&json, "why", why);
  ew_session_post(live, EW_RECORD_REFUSED, &json, g_strdup_printf("REFUSED: '%s': %s", shown, why));
}

static void begin(struct ew_session *live, const char *text) {
  guint begun = 0;
  (void)text;
  for (guint i = 0; i < live->feeds->len; i++)
    begun += ew_feed_begin_by_hand(g_ptr_array_index(live->feeds, i));
  if (!begun)
    refuse(live, "begin", "no source has sent a sample yet");
}

static void end(struct ew_session *live, const char *text) {
  guint ended = 0;
  (void)text;
  for (guint i = 0; i < live->feeds->len; i++)
    ended += ew_feed_end_by_hand(g_ptr_array_index(live->feeds, i));
  if (!ended)
    refuse(live, "end", "no pull by hand is under way");
}

static void arm(struct ew_session *live, const char *text) {
  (void)text;
  ew_session_choose_arming(live, TRUE);
}

static void disarm(struct ew_session *live, const char *text) {
  (void)text;
  ew_session_choose_arming(live, FALSE);
}

static void send_text(struct ew_session *live, const char *text) {
  for (guint i = 0; i < live->feeds->len; i++)
    ew_source_send(((struct ew_feed *)g_ptr_array_index(live->feeds, i))->source, text);
}

static void shut_down(struct ew_session *live, const char *text) {
  (void)text;
  ew_session_shut_down(live);
}

static void stop(struct ew_session *live, const char *text) {
  (void)text;
  live->stop = TRUE;
}

/* word, whether text stands behind it, whether it is taken in a pull */
static const struct control {
  const char *word;
  gboolean takes_text, in_pull;
  control_does does;
} controls[] = {
    {"mark", TRUE, TRUE, mark},
    {"end", FALSE, TRUE, end},
    {"shut down", FALSE, TRUE, shut_down},
    {"stop", FALSE, TRUE, stop},
    {"begin", FALSE, FALSE, begin},
    {"arm", FALSE, FALSE, arm},
    {"disarm", FALSE, FALSE, disarm},
    {"send", TRUE, FALSE, send_text},
    {"clear", TRUE, FALSE, ew_session_clear_alarms},
    {"alarms", TRUE, FALSE, ew_session_exchange_alarms},
};

/* The control that the line asks for, with what stands behind its word; NULL: none. */
static const struct control *find(const char *line, const char **text) {
  for (gsize i = 0; i < G_N_ELEMENTS(controls); i++) {
    gsize size = strlen(controls[i].word);
    if (strncmp(line, controls[i].word, size) != 0)
      continue;
    *text = line + size + strspn(line + size, " \t");
    if (controls[i].takes_text ? line[size] && *text > line + size && **text : !line[size])
      return &controls[i];
  }
  return NULL;
}

gboolean ew_record_takes(const char *line, gboolean in_pull, GError **error) {
  const char *text;
  const struct control *control = find(line, &text);
  if (!control)
    return ew_refuse(error,
                     "line: one of 'mark TEXT', 'begin', 'end', 'arm', 'disarm', 'shut down', "
                     "'send TEXT', 'clear NAME', 'clear all', 'alarms FILE', 'stop' is wanted");
  if (in_pull && !control->in_pull)
    return ew_refuse(error,
                     "a pull is under way: until it is over only 'mark TEXT', 'end' (of a pull "
                     "by hand), 'shut down' and 'stop' are taken");
  return TRUE;
}

static void control_line(struct ew_session *live, char *line) {
  g_autoptr(GError) problem = NULL;
  const char *text;
  g_strstrip(line);
  if (!*line)
    return;
  if (ew_record_takes(line, ew_session_in_pull(live), &problem))
    find(line, &text)->does(live, text);
  else
    refuse(live, line, problem->message);
  ew_session_tell_in_pull(live);
}

void ew_session_read_control(struct ew_session *live) {
  char bytes[4096];
  gssize got = read(live->options->control_fd, bytes, sizeof bytes);
  live->control_ended = got == 0 || live->control->len > LINES_MOST;
  if (got <= 0 || live->control_ended)
    return;
  g_string_append_len(live->control, bytes, got);
  for (char *at; (at = memchr(live->control->str, '\n', live->control->len));) {
    g_autofree char *line = g_strndup(live->control->str, (gsize)(at - live->control->str));
    g_string_erase(live->control, 0, at - live->control->str + 1);
    control_line(live, line);
  }
}
