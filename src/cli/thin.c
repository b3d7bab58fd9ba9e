/* `book thin`, and what is said of idle samples elsewhere. */
#include "cli/thin.h"
#include "base/error.h"
#include "base/words.h"
#include "desk/thin.h"
#include <math.h>
#include <string.h>

#define RATE_HZ  1.0
#define AROUND_S 60.0 /* common practice, no source */
#define DAY_S    86400.0
#define MB       1048576.0

/* ---- the rule ---- */

static gboolean read_rule(const struct ew_call *call, struct ew_thin_rule *rule, gboolean stands,
                          GError **error) {
  double rate_hz = stands ? 1 / rule->period_s : RATE_HZ;
  if (!ew_call_quantity(call, "idle-whole", EW_KIND_TIME, stands ? rule->whole_s : (double)NAN,
                        &rule->whole_s, error) ||
      !ew_call_quantity(call, "idle-rate", EW_KIND_FREQUENCY, rate_hz, &rate_hz, error) ||
      !ew_call_quantity(call, "idle-around", EW_KIND_TIME, stands ? rule->around_s : AROUND_S,
                        &rule->around_s, error))
    return FALSE;
  rule->period_s = 1 / rate_hz;
  if (isnan(rule->whole_s))
    return ew_refuse(error, "no rule for idle samples stands yet: give --idle-whole too, such as "
                            "--idle-whole \"90 days\"");
  return ew_thin_rule_check(rule, error);
}

gboolean ew_idle_rule_asked(const struct ew_call *call, struct ew_book *book, char **setting,
                            gboolean *given, GError **error) {
  struct ew_thin_rule rule = {NAN, NAN, NAN};
  gboolean stands = FALSE;
  const char *whole = ew_call_option(call, "idle-whole");
  *setting = NULL;
  *given = whole || ew_call_has(call, "idle-rate") || ew_call_has(call, "idle-around");
  if (!*given)
    return TRUE;
  if (g_strcmp0(whole, "all") == 0) {
    if (ew_call_has(call, "idle-rate") || ew_call_has(call, "idle-around"))
      return ew_refuse(error, "--idle-whole all keeps everything: it takes no rate and no time "
                              "around");
    *setting = g_strdup("");
    return TRUE;
  }
  /* a rule that can't be read is put in order by a whole new one */
  g_autoptr(GError) unread = NULL;
  if (!ew_thin_rule_get(book, &rule, &stands, &unread))
    stands = FALSE;
  if (!read_rule(call, &rule, stands, error))
    return FALSE;
  *setting = ew_thin_rule_write(&rule);
  return TRUE;
}

void ew_idle_rule_say(const struct ew_thin_rule *rule, gboolean stands) {
  if (!stands)
    ew_say("idle samples of live recordings: all are kept");
  else {
    g_autofree char *whole = rule->whole_s >= DAY_S ? ew_words("%g d", rule->whole_s / DAY_S)
                                                    : ew_words("%g s", rule->whole_s);
    ew_say("idle samples of live recordings: whole for %s after the recording ended, then "
           "%g Hz by 'book thin', with mean, least and greatest; whole for ever within %g s of "
           "pulls, trips, marks, notes and photos",
           whole, 1 / rule->period_s, rule->around_s);
  }
}

void ew_idle_rule_json(const struct ew_thin_rule *rule, gboolean stands, struct ew_json *json) {
  if (!stands) {
    ew_json_text(json, "thinning", NULL);
    return;
  }
  ew_json_open(json, "thinning");
  ew_json_number(json, "whole_s", rule->whole_s);
  ew_json_number(json, "rate_hz", 1 / rule->period_s);
  ew_json_number(json, "around_s", rule->around_s);
  ew_json_close(json);
}

gboolean ew_idle_info(const struct ew_call *call, struct ew_book *book, struct ew_json *json,
                      GError **error) {
  struct ew_thin_rule rule;
  struct ew_thin_sum sum;
  gboolean stands;
  if (!ew_thin_rule_get(book, &rule, &stands, error) || !ew_thinned_sum(book, &sum, error))
    return FALSE;
  if (call->json) {
    ew_idle_rule_json(&rule, stands, json);
    ew_json_open(json, "thinned");
    ew_json_integer(json, "recordings", sum.recordings);
    ew_json_integer(json, "runs", sum.runs);
    ew_json_integer(json, "rows", sum.source_rows);
    ew_json_integer(json, "rows_after", sum.rows);
    ew_json_integer(json, "bytes", sum.source_bytes);
    ew_json_integer(json, "bytes_after", sum.bytes);
    ew_json_close(json);
    return TRUE;
  }
  ew_idle_rule_say(&rule, stands);
  if (sum.runs)
    ew_say("thinned until now, in live recordings: %" G_GINT64_FORMAT ": %" G_GINT64_FORMAT
           " rows became %" G_GINT64_FORMAT ", %.2f MB became %.2f MB",
           sum.recordings, sum.source_rows, sum.rows, (double)sum.source_bytes / MB,
           (double)sum.bytes / MB);
  return TRUE;
}

/* ---- near a pull ---- */

gboolean ew_idle_around(struct ew_book *book, gint64 recording_id, struct ew_json *json,
                        GError **error) {
  struct ew_thinned_around a;
  if (!ew_thinned_near(book, recording_id, &a, error))
    return FALSE;
  if (a.stream_id && json) {
    ew_json_open(json, "thinned_around");
    ew_json_integer(json, "live_recording_id", a.stream_id);
    ew_json_number(json, "whole_before_s", a.before_s);
    ew_json_number(json, "whole_after_s", a.after_s);
    ew_json_number(json, "rate_hz", 1 / a.rule.period_s);
    ew_json_text(json, "at", a.at);
    ew_json_text(json, "who", a.who);
    ew_json_close(json);
  } else if (a.stream_id) {
    ew_say("   every sample of the pull is as it was measured; its live recording %" G_GINT64_FORMAT
           " was thinned to %g Hz farther away (%.10s, %s)",
           a.stream_id, 1 / a.rule.period_s, a.at, a.who);
    if (!isnan(a.before_s))
      ew_say("   before the pull %.0f s are whole", a.before_s);
    if (!isnan(a.after_s))
      ew_say("   after the pull %.0f s are whole", a.after_s);
  } else if (json)
    ew_json_text(json, "thinned_around", NULL);
  ew_thinned_around_clear(&a);
  return TRUE;
}

/* ---- book thin ---- */

static const struct ew_option_spec thin_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"look", NULL, EW_TEXT("tell what would go, and change nothing"), FALSE},
    {"same-size", NULL,
     EW_TEXT("leave the file as large as it is: what is recorded next goes into "
             "the room"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_one(const struct ew_thin_done *d) {
  if (d->state == EW_THIN_THINNED)
    ew_say("live recording %" G_GINT64_FORMAT ": %" G_GINT64_FORMAT " of %" G_GINT64_FORMAT
           " rows become %" G_GINT64_FORMAT ", %.2f MB become %.2f MB",
           d->recording_id, d->source_rows, d->rows, d->after, (double)d->source_bytes / MB,
           (double)d->bytes / MB);
  else
    ew_say("live recording %" G_GINT64_FORMAT ": %s", d->recording_id,
           ew_thin_state_says(d->state));
}

static void say_thinned(const struct ew_thinning *t, const struct ew_thin_rule *rule,
                        gboolean look) {
  ew_idle_rule_say(rule, TRUE);
  for (guint i = 0; i < t->rows->len; i++)
    say_one(&g_array_index(t->rows, struct ew_thin_done, i));
  double less = (double)(t->sum.source_bytes - t->sum.bytes) / MB;
  ew_say(look ? EW_TEXT("nothing was changed: samples would take %.2f MB less")
              : EW_TEXT("samples take %.2f MB less"),
         less);
  if (t->shrunk)
    ew_say("the book's file: %.2f MB before, %.2f MB now", (double)t->size_before / MB,
           (double)t->size_after / MB);
  if (t->kept_because)
    ew_say("the book's file stays as large as it was, and what is recorded next goes into the "
           "room: %s",
           t->kept_because);
}

static void write_done(const void *of, struct ew_json *json) {
  const struct ew_thin_done *d = of;
  ew_json_integer(json, "id", d->recording_id);
  ew_json_text(json, "state", ew_thin_state_key(d->state));
  ew_json_integer(json, "rows", d->rows);
  ew_json_integer(json, "runs", d->runs);
  ew_json_integer(json, "rows_thinned", d->source_rows);
  ew_json_integer(json, "rows_after", d->after);
  ew_json_integer(json, "bytes_thinned", d->source_bytes);
  ew_json_integer(json, "bytes_after", d->bytes);
}

static void answer(const struct ew_thinning *t, const struct ew_thin_rule *rule, gboolean look) {
  struct ew_json json = ew_answer_begin();
  ew_json_boolean(&json, "changed", !look && t->sum.runs > 0);
  ew_idle_rule_json(rule, TRUE, &json);
  ew_json_rows(&json, "recordings", t->rows, write_done);
  ew_json_integer(&json, "bytes_thinned", t->sum.source_bytes);
  ew_json_integer(&json, "bytes_after", t->sum.bytes);
  ew_json_integer(&json, "file_bytes_before", t->size_before);
  ew_json_integer(&json, "file_bytes_after", t->size_after);
  ew_json_boolean(&json, "file_smaller", t->shrunk);
  ew_json_text(&json, "file_kept_because", t->kept_because);
  ew_answer_end(&json);
}

/* NULL with *error; *every: none was named. */
static GArray *ids_of(const struct ew_call *call, GError **error) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < call->arguments->len; i++) {
    guint64 id;
    const char *text = ew_call_argument(call, i);
    if (!g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT64, &id, NULL)) {
      ew_refuse(error, "'%.40s' is not the number of a live recording", text);
      return NULL;
    }
    gint64 one = (gint64)id;
    g_array_append_val(ids, one);
  }
  return g_steal_pointer(&ids);
}

static gboolean may_write(struct ew_book *book, gboolean look, GError **error) {
  return look || !ew_book_is_read_only(book) ||
         ew_refuse(error, "this book can only be read: nothing in it can be thinned");
}

static gboolean run_thin(const struct ew_call *call, GError **error) {
  gboolean look = ew_call_has(call, "look"), stands = FALSE;
  g_autoptr(GArray) ids = ids_of(call, error);
  g_autoptr(ew_book) book = ids ? ew_call_book(call, FALSE, TRUE, error) : NULL;
  struct ew_thin_rule rule;
  struct ew_thinning thinning = {0};
  if (!book || !ew_thin_rule_get(book, &rule, &stands, error) || !may_write(book, look, error))
    return FALSE;
  if (!stands)
    return ew_refuse(error, "no rule for idle samples stands in this book, so everything is kept; "
                            "'book set --idle-whole \"90 days\"' makes one");
  const struct ew_thin_asked asked = {.ids = ids->len ? ids : NULL,
                                      .look = look,
                                      .no_shrink = ew_call_has(call, "same-size"),
                                      .progress = ew_call_progress()};
  gboolean good = ew_desk_thin(book, &rule, &asked, &thinning, error);
  if (good && call->json)
    answer(&thinning, &rule, look);
  else if (good)
    say_thinned(&thinning, &rule, look);
  ew_thinning_clear(&thinning);
  return good;
}
const struct ew_command ew_command_book_thin = {
    .name = "book thin",
    .summary = EW_TEXT(
        "Keep idle samples of old live recordings at a lower rate, and make the file smaller"),
    .takes = EW_TEXT("[RECORDING...]"),
    .least = 0,
    .most = -1,
    .options = thin_options,
    .run = run_thin,
    .examples =
        "book thin --look\nbook thin\nbook set --idle-whole \"90 days\" --idle-rate \"1 Hz\"",
    .more = EW_TEXT(
        "Pulls, trips, marks, notes and photos keep every sample near them, and figures never "
        "change by it. What is thinned can't be had back but from a backup; of a book that "
        "belongs to a shop nothing goes before the shop has it. Not while something is recorded.")};
