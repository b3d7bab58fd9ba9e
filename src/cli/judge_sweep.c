/* judge sweep: torque against spark or mixture, and what was seen at each step. */
#include "cli/question_call.h"
#include <math.h>
#include <string.h>

static const struct ew_option_spec sweep_options[] = {
    EW_DESK_OPTIONS,
    {"pulls", EW_TEXT("PULL|FILE"), EW_TEXT("ids or files, in the order they ran"), TRUE},
    {"seen", EW_TEXT("PULL=TEXT"),
     EW_TEXT("what was seen after a pull (its place in the list, from 1); specks end the sweep"),
     TRUE},
    {"history", EW_TEXT("GROUP=FILE"), EW_TEXT("like pulls that show how the cell repeats"), TRUE},
    {"margin", "Q", EW_TEXT("loss from the best that is accepted for a reserve (0.5 %)"), FALSE},
    {"reserve", "Q",
     EW_TEXT("distance kept from the first knock: degrees, or lambda (2 deg; 0.01)"), FALSE},
    EW_DESPITE_OPTION,
    {"no-keep", NULL, EW_TEXT("do not keep the answer in the book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static gboolean apply_seen(const struct ew_call *call, GPtrArray *pulls, GError **error) {
  g_autofree const char **list = ew_call_options(call, "seen");
  for (int i = 0; list[i]; i++) {
    char *end;
    gint64 number = g_ascii_strtoll(list[i], &end, 10);
    if (*end != '=' || number < 1 || number > (gint64)pulls->len)
      return ew_refuse(error, "--seen '%s': write PLACE=TEXT with a place from 1 to %u", list[i],
                       pulls->len);
    struct ew_loaded *l = g_ptr_array_index(pulls, (guint)number - 1);
    g_free(l->setup.seen);
    l->setup.seen = g_strdup(end + 1);
  }
  return TRUE;
}

/* What lies behind it: each pull's pull on the best, costs, what was lent. */
static void say_behind_sweep(const struct ew_sweep *s) {
  const GPtrArray *lists[] = {s->costs, s->assumed};
  for (gsize k = 0; k < G_N_ELEMENTS(lists); k++)
    for (guint i = 0; i < lists[k]->len; i++) {
      g_autofree char *text = ew_message_text(lists[k]->pdata[i], EW_UNITS_SI);
      ew_say("%s", text);
    }
}

static void say_sweep(const struct ew_sweep *s, const GPtrArray *pulls, const char *unit) {
  if (s->bracketed)
    ew_say("best %.3g %s (95 %%: %.3g to %.3g)", s->best, unit, s->best_low, s->best_high);
  else
    ew_say(
        s->best < s->setting[0]
            ? EW_TEXT(
                  "best below %.3g %s, outside what was tested; these pulls cannot tell how far")
            : EW_TEXT(
                  "best above %.3g %s, outside what was tested; these pulls cannot tell how far"),
        s->best < s->setting[0] ? s->setting[0] : s->setting[s->points - 1], unit);
  if (isnan(s->chosen))
    ew_say("no tested setting has been shown to lose less than the margin");
  else if (isnan(s->chosen_loss))
    ew_say(s->held_by_reserve ? EW_TEXT("take %.3g %s, limited by the reserve from knock")
                              : EW_TEXT("take %.3g %s"),
           s->chosen, unit);
  else
    ew_say(
        s->held_by_reserve
            ? EW_TEXT(
                  "take %.3g %s: loses %.2f %% from the best; limited by the reserve from knock")
            : EW_TEXT(
                  "take %.3g %s: loses %.2f %% from the best, the least that has been shown to be "
                  "inside the margin"),
        s->chosen, unit, 100 * s->chosen_loss);
  g_autofree char *reason = ew_message_text(s->reason, EW_UNITS_SI);
  ew_say("%s", reason);
  if (s->narrow_says) {
    g_autofree char *narrow = ew_message_text(s->narrow_says, EW_UNITS_SI);
    ew_say("%s", narrow);
  }
  ew_say("\n%10s %10s %8s", unit, ew_tr("loss, %"), "±, %");
  gsize stride = MAX(s->points / 12, 1);
  int decimals = strcmp(unit, "deg") == 0 ? 1 : 3;
  for (gsize j = 0; j < s->points; j += stride)
    ew_say("%10.*f %10.2f %8.2f", decimals, s->setting[j], 100 * s->loss[j], 200 * s->loss_se[j]);
  ew_say("loss: torque given away from the best, ± at 95 %%; from %u pulls; one repeats to %.2f %% "
         "(%.1f degrees of freedom)",
         pulls->len, 100 * s->sd, s->freedom);
  say_behind_sweep(s);
  ew_say_cautions(s->warnings, EW_UNITS_SI);
}

static gboolean run_sweep(const struct ew_call *call, GError **error) {
  const char *what = ew_call_argument(call, 0);
  gboolean spark = strcmp(what, "spark") == 0;
  if (!spark && strcmp(what, "mixture") != 0)
    return ew_refuse(error, "judge sweep: '%s' is neither spark nor mixture", what);
  g_autoptr(ew_book) book = NULL;
  struct ew_desk desk = {0};
  struct ew_sides s = ew_sides_new();
  double margin, reserve;
  guint despite = 0;
  gboolean good = ew_call_despite(call, &despite, error) &&
                  ew_call_open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "margin", EW_KIND_RATIO, 0.005, &margin, error) &&
                  ew_call_quantity(call, "reserve", spark ? EW_KIND_ANGLE : EW_KIND_LAMBDA,
                                   spark ? 2 : 0.01, &reserve, error);
  for (guint i = 1; good && i < call->arguments->len; i++)
    good = ew_desk_load(&desk, ew_call_argument(call, i), s.pulls, error);
  good = good && ew_call_load_list(call, "pulls", &desk, s.pulls, error) &&
         ew_call_load_history(call, &desk, s.history, s.groups, error) &&
         apply_seen(call, s.pulls, error);
  struct ew_sweep *sweep =
      good ? ew_ask_sweep(&desk, s.pulls, spark ? EW_SWEEP_SPARK : EW_SWEEP_MIXTURE, margin,
                          reserve, s.history, s.groups, despite, ew_call_keeps(call, book), error)
           : NULL;
  if (sweep && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_sweep_write_json(sweep, &json);
    ew_answer_end(&json);
  } else if (sweep)
    say_sweep(sweep, s.pulls, spark ? "deg" : "lambda");
  good = sweep != NULL;
  ew_sweep_free(sweep);
  ew_sides_free(&s);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_judge_sweep = {
    .name = "judge sweep",
    .summary = EW_TEXT(
        "Torque against spark or mixture: the best, the least that is enough, the next step "
        "or stop"),
    .takes = EW_TEXT("spark|mixture [PULL...]"),
    .least = 1,
    .most = -1,
    .options = sweep_options,
    .run = run_sweep,
    .examples =
        EW_TEXT("judge sweep spark 11 12 20 24 25\njudge sweep spark --pulls 11 12 24 --seen "
                "\"3=specks on plug 4\"\njudge sweep mixture 26 27 28"),
    .more = EW_TEXT("Knock, or anything noted on a plug, ends a sweep whatever torque says. Work "
                    "from the safe side, and follow the\nengine maker's and fuel maker's limits; "
                    "nothing here is permission.")};
