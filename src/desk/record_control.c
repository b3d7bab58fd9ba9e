/* The control line of a live session. What may not be done in a pull is refused here, whoever asks: in a
 * pull a person may end it, mark it, ask for a shut-down, or stop recording; nothing else. */
#include "base/error.h"
#include "base/language.h"
#include "desk/record_session.h"
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LINES_MOST 65536

/* Each takes what follows the word ("" for a word on its own). */
typedef void (*control_does)(struct ew_session *live, const char *text);

EW_MESSAGE(marked, "desk.mark", EW_NOTE, "mark at {time}: {text}");
EW_MESSAGE(line_refused, "desk.line-refused", EW_CAUTION, "REFUSED: '{line}': {why}");
EW_MESSAGE(nothing_sent, "desk.no-sample-yet", EW_CAUTION, "no source has sent a sample yet");
EW_MESSAGE(none_by_hand, "desk.no-pull-by-hand", EW_CAUTION, "no pull by hand is under way");
EW_MESSAGE(not_a_line, "desk.line-unknown", EW_CAUTION,
           "write one of 'mark TEXT', 'begin', 'end', 'arm', 'disarm', 'shut down', 'send TEXT', "
           "'clear NAME', 'clear all', 'alarms FILE', 'set NAME=VALUE', 'changed TEXT', 'stop'");
EW_MESSAGE(locked_in_pull, "desk.locked-in-pull", EW_CAUTION,
           "a pull is under way: until it ends only 'mark TEXT', 'end' (of a pull by hand), 'shut "
           "down' and 'stop' are accepted");

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
    ew_session_post(live, EW_RECORD_MARK, &json,
                    ew_message(&marked, ew_say_quantity("time", EW_KIND_TIME, f->last_s, 2),
                               ew_say_text("text", text)));
  }
}

/* Takes the message. */
static void refuse(struct ew_session *live, const char *line, ew_message *given) {
  g_autoptr(ew_message) why = given;
  g_autofree char *shown = g_utf8_make_valid(line, -1);
  for (char *c = shown; *c; c++) /* it came from anywhere: nothing of it steers a terminal */
    if (g_ascii_iscntrl(*c))
      *c = '?';
  struct ew_json json = ew_session_news(EW_RECORD_REFUSED);
  ew_json_text(&json, "line", shown);
  ew_session_write_fact(&json, "why", why);
  ew_session_post(
      live, EW_RECORD_REFUSED, &json,
      ew_message(&line_refused, ew_say_text("line", shown), ew_say_message("why", why)));
}

EW_MESSAGE(will_be, "desk.setup-said", EW_NOTE, "from the next pull on: {set}");
EW_MESSAGE(was_changed, "desk.changed-said", EW_NOTE, "changed before the next pull: {text}");
EW_MESSAGE(not_set, "desk.setup-refused", EW_CAUTION, "{error}");

static void set_field(struct ew_session *live, const char *text) {
  g_autoptr(GError) problem = NULL;
  if (ew_said_set(&live->said, text, &problem))
    ew_session_post_setup(live, text, NULL, ew_message(&will_be, ew_say_text("set", text)));
  else
    refuse(live, text, ew_message(&not_set, ew_say_text("error", problem->message)));
}

static void note_changed(struct ew_session *live, const char *text) {
  ew_said_changed(&live->said, text);
  ew_session_post_setup(live, NULL, text, ew_message(&was_changed, ew_say_text("text", text)));
}

static void begin(struct ew_session *live, const char *text) {
  guint begun = 0;
  (void)text;
  for (guint i = 0; i < live->feeds->len; i++)
    begun += ew_feed_begin_by_hand(g_ptr_array_index(live->feeds, i));
  if (!begun)
    refuse(live, "begin", ew_message_plain(&nothing_sent));
}

static void end(struct ew_session *live, const char *text) {
  guint ended = 0;
  (void)text;
  for (guint i = 0; i < live->feeds->len; i++)
    ended += ew_feed_end_by_hand(g_ptr_array_index(live->feeds, i));
  if (!ended)
    refuse(live, "end", ew_message_plain(&none_by_hand));
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

/* word, whether text follows it, whether it is accepted in a pull */
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
    {"set", TRUE, FALSE, set_field},
    {"changed", TRUE, FALSE, note_changed},
    {"clear", TRUE, FALSE, ew_session_clear_alarms},
    {"alarms", TRUE, FALSE, ew_session_exchange_alarms},
};

/* The control that the line asks for, with what follows its word; NULL: none. */
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

/* Why the line isn't accepted now; NULL: it is. */
static const struct ew_message_kind *why_not(const char *line, gboolean in_pull) {
  const char *text;
  const struct control *control = find(line, &text);
  if (!control)
    return &not_a_line;
  return in_pull && !control->in_pull ? &locked_in_pull : NULL;
}

gboolean ew_record_takes(const char *line, gboolean in_pull, GError **error) {
  const struct ew_message_kind *why = why_not(line, in_pull);
  if (why)
    return ew_refuse(error, "line: %s", ew_tr(why->text));
  const char *text;
  if (find(line, &text)->does != set_field)
    return TRUE;
  struct ew_said said = {0};
  gboolean good = ew_said_set(&said, text, error);
  ew_said_clear(&said);
  return good;
}

static void control_line(struct ew_session *live, char *line) {
  const char *text;
  g_strstrip(line);
  if (!*line)
    return;
  const struct ew_message_kind *why = why_not(line, ew_session_in_pull(live));
  if (why)
    refuse(live, line, ew_message_plain(why));
  else
    find(line, &text)->does(live, text);
  ew_session_tell_in_pull(live);
}

void ew_session_read_control(struct ew_session *live) {
  char bytes[4096];
  gssize got = read(live->options->control_fd, bytes, sizeof bytes);
  gboolean later = got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR);
  live->control_ended = (got <= 0 && !later) || live->control->len > LINES_MOST;
  if (got <= 0 || live->control_ended)
    return;
  g_string_append_len(live->control, bytes, got);
  for (char *at; (at = memchr(live->control->str, '\n', live->control->len));) {
    g_autofree char *line = g_strndup(live->control->str, (gsize)(at - live->control->str));
    g_string_erase(live->control, 0, at - live->control->str + 1);
    control_line(live, line);
  }
}
