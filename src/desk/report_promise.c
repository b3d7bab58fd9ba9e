/* The customer's side of a test report: what was agreed beside what was proved, what was seen of the engine, and what has to be
 * known before a figure is believed.
 *
 * A promised figure is reached when the proved one less its expanded uncertainty (95 %) is not below it, missed when the proved
 * one with it still is, and else too close to tell: the rule for a stated uncertainty of JCGM 106:2012, 8.3, with the
 * uncertainty on both sides. A promise says no standard; the sheet's factor stands beside it. */
#include "desk/report_parts.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include "book/curve_note.h"
#include "book/found.h"
#include "desk/build.h"
#include "judge/comparable.h"
#include <math.h>
#include <string.h>

#define SEEN_MOST 4 /* of the build's own remarks, the last ones */

static const char *answer_of(double promised, double proved, double expanded) {
  g_assert(!isnan(promised) && !isnan(proved));
  return proved - expanded >= promised  ? EW_TEXT("reached")
         : proved + expanded < promised ? EW_TEXT("not reached")
                                        : EW_TEXT("too close to tell");
}

static void add(struct ew_report *r, const char *what, char *promised, char *proved,
                const char *answer) {
  struct ew_report_promise one = {g_strdup(ew_tr(what)), promised, proved, g_strdup(ew_tr(answer))};
  g_array_append_val(r->promises, one);
}

static char *at_speed(const char *figure, const char *unit, double speed_rpm) {
  return isnan(speed_rpm) ? g_strdup_printf("%s %s", figure, unit)
                          : ew_words("%s %s at %#.0f rpm", figure, unit, speed_rpm);
}

/* NaN: nothing was promised. */
static void add_figure(struct ew_report *r, const char *what, enum ew_kind kind, double promised,
                       double promised_rpm, double proved, double proved_rpm) {
  char number[EW_NUMBER_SIZE];
  double shown = ew_shown(kind, r->units, proved);
  g_autofree char *figure = ew_number_with_uncertainty(shown, shown * r->expanded_relative);
  const char *unit = ew_kind_shown(kind, r->units);
  if (isnan(promised) || isnan(proved))
    return;
  ew_number_shown(ew_shown(kind, r->units, promised), 0, number);
  add(r, what, at_speed(number, unit, promised_rpm), at_speed(figure, unit, proved_rpm),
      answer_of(promised, proved, proved * r->expanded_relative));
}

static void add_limit(struct ew_report *r, double promised_rpm, double highest_rpm) {
  if (isnan(promised_rpm) || isnan(highest_rpm))
    return;
  gboolean reached = highest_rpm >= promised_rpm || ew_is_same_limit(highest_rpm, promised_rpm);
  add(r, EW_TEXT("highest speed"), ew_words("%#.0f rpm", promised_rpm),
      ew_words("run to %#.0f rpm", round(highest_rpm / 10) * 10),
      reached ? EW_TEXT("reached") : EW_TEXT("not run so far"));
}

EW_MESSAGE(seen_after, "desk.report-seen", EW_CAUTION, "after pull {pull}: {seen}");

/* Of the pulls of this report; what is stored with a pull is its set-up's. */
static void tell_seen(struct ew_report *r, const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (l->setup.seen && *l->setup.seen)
      ew_messages_add(r->found, ew_message(&seen_after, ew_say_count("pull", l->id),
                                           ew_say_text("seen", l->setup.seen)));
  }
}

EW_MESSAGE(curve_note, "desk.report-curve-note", EW_NOTE,
           "on the curve of pull {pull}, at {speed}: {text}");

/* What somebody read off a curve, in the order of speed; taken back: not on the report. */
static gboolean tell_curve_notes(struct ew_report *r, struct ew_book *book, const GPtrArray *pulls,
                                 GError **error) {
  for (guint i = 0; book && i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (!l->id)
      continue;
    g_autoptr(GArray) notes = ew_curve_note_list(book, l->id, error);
    if (!notes)
      return FALSE;
    for (guint k = 0; k < notes->len; k++) {
      const struct ew_curve_note *n = &g_array_index(notes, struct ew_curve_note, k);
      if (!n->withdrawn)
        ew_messages_add(r->found, ew_message(&curve_note, ew_say_count("pull", l->id),
                                             ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED,
                                                             n->speed_rpm, 0),
                                             ew_say_text("text", n->text)));
    }
  }
  return TRUE;
}

EW_MESSAGE(build_seen, "desk.report-build-seen", EW_NOTE, "{what}: {says}");
EW_MESSAGE(build_seen_at, "desk.report-build-seen-at", EW_NOTE, "{what} {position}: {says}");

static void tell_build(struct ew_report *r, const struct ew_build *build) {
  guint count = build->records[EW_BUILD_SEEN]->len;
  for (guint i = count > SEEN_MOST ? count - SEEN_MOST : 0; i < count; i++) {
    const struct ew_build_seen *s = g_ptr_array_index(build->records[EW_BUILD_SEEN], i);
    if (!s->says || !*s->says)
      continue;
    ew_messages_add(r->found, s->position ? ew_message(&build_seen_at, ew_say_term("what", s->what),
                                                       ew_say_term("position", s->position),
                                                       ew_say_text("says", s->says))
                                          : ew_message(&build_seen, ew_say_term("what", s->what),
                                                       ew_say_text("says", s->says)));
  }
}

EW_MESSAGE(nothing_seen, "desk.report-nothing-seen", EW_NOTE,
           "nothing was noted of plugs, filter, oil or sound after these pulls");

gboolean ew_report_promises(struct ew_report *r, const struct ew_desk *desk, const char *engine,
                            const struct ew_report_peaks *peaks, const GPtrArray *pulls,
                            GError **error) {
  struct ew_bench_build bench = {0};
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  double limit = last->engine.agreed_limit_rpm;
  tell_seen(r, pulls);
  if (!tell_curve_notes(r, desk->book, pulls, error))
    return FALSE;
  if (engine && *engine) {
    if (!ew_bench_build_open(desk->book, engine, FALSE, &bench, error))
      return FALSE;
    struct ew_build_agreed now = ew_build_agreed_now(bench.build);
    add_figure(r, EW_TEXT("power"), EW_KIND_POWER, now.power_w, now.power_speed_rpm, peaks->power_w,
               peaks->power_at_rpm);
    add_figure(r, EW_TEXT("torque"), EW_KIND_TORQUE, now.torque_n_m, (double)NAN, peaks->torque_n_m,
               peaks->torque_at_rpm);
    limit = isnan(now.limit_rpm) ? limit : now.limit_rpm;
    tell_build(r, bench.build);
    ew_bench_build_clear(&bench);
  }
  add_limit(r, limit, peaks->highest_rpm);
  if (r->found->len == 0)
    ew_messages_add(r->found, ew_message_plain(&nothing_seen));
  return TRUE;
}

EW_MESSAGE_MANY(left_out, "desk.report-left-out", EW_NOTE,
                "{count} pull of this engine was left out; the shop's copy says why",
                "{count} pulls of this engine were left out; the shop's copy says why of each");
EW_MESSAGE_MANY(put_right, "desk.report-put-right", EW_NOTE,
                "{count} fact of these pulls was corrected after they ran; the shop's copy says "
                "which and why",
                "{count} facts of these pulls were corrected after they ran; the shop's copy says "
                "which and why");

void ew_report_notices(struct ew_report *r) {
  g_assert(r->notices->len == 0);
  guint discarded = 0, amended = 0;
  for (int severity = EW_DANGER; severity >= EW_NOTE; severity--)
    for (guint i = 0; i < r->cautions->len; i++) {
      const ew_message *m = g_ptr_array_index(r->cautions, i);
      if ((int)ew_message_severity(m) != severity)
        continue;
      if (ew_message_is(m, &ew_report_discarded))
        discarded++;
      else if (ew_message_is(m, &ew_report_amended))
        amended++;
      else
        ew_messages_add(r->notices, ew_message_copy(m));
    }
  if (discarded)
    ew_messages_add(r->notices, ew_message(&left_out, ew_say_count("count", discarded)));
  if (amended)
    ew_messages_add(r->notices, ew_message(&put_right, ew_say_count("count", amended)));
}
