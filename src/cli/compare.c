/* compare, and judge next: the same question, answered, or only asked what to run for it. */
#include "base/words.h"
#include "cli/question_call.h"
#include "judge/day_opinion.h"
#include "judge/next.h"
#include <math.h>
#include <string.h>

static const struct ew_option_spec compare_options[] = {
    EW_DESK_OPTIONS,
    {"a", EW_TEXT("PULL|FILE"), EW_TEXT("before: ids or files"), TRUE},
    {"b", EW_TEXT("PULL|FILE"), EW_TEXT("after: ids or files"), TRUE},
    {"history", EW_TEXT("GROUP=FILE"),
     EW_TEXT("like pulls that show how the cell repeats; groups of two or more"), TRUE},
    {"margin", "Q", EW_TEXT("a smaller difference counts as the same (1 %; 0 %: never)"), FALSE},
    {"order", EW_TEXT("ABAB"), EW_TEXT("the order in which the files ran (default: A B A B)"),
     FALSE},
    {"level", EW_TEXT("NAME"),
     EW_TEXT("what came between the sides: consecutive, restart, day, remount"), FALSE},
    {"band", EW_TEXT("LOW:HIGH"), EW_TEXT("speed band that counts, rpm"), FALSE},
    {"car", EW_TEXT("FILE"),
     EW_TEXT("speeds count by the time under power at each that A spends in this car ('car new'); "
             "the answer is not kept"),
     FALSE},
    EW_DESPITE_OPTION,
    {"named-only", NULL,
     EW_TEXT("only the pulls that are named count, not others of the book that repeat them"),
     FALSE},
    {"rested", NULL,
     EW_TEXT("the engine was stopped, or rested long, since its last pull: for what to run next"),
     FALSE},
    {"no-keep", NULL, EW_TEXT("do not keep the answer in the book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static gboolean read_band(const struct ew_call *call, double *low, double *high, GError **error) {
  const char *band = ew_call_option(call, "band");
  *low = *high = NAN;
  if (!band)
    return TRUE;
  g_auto(GStrv) parts = g_strsplit(band, ":", 3);
  if (g_strv_length(parts) != 2)
    return ew_refuse(error, "--band '%s': write LOW:HIGH in rpm, for example 4500:7000", band);
  char *end[2];
  *low = g_ascii_strtod(parts[0], &end[0]);
  *high = g_ascii_strtod(parts[1], &end[1]);
  return (*end[0] == 0 && *end[1] == 0 && *low > 0 && *high > *low) ||
         ew_refuse(error, "--band '%s': write LOW:HIGH in rpm, for example 4500:7000", band);
}

/* The second opinion, and what speaks for and against it. */
static void say_day(const struct ew_day_opinion *o, enum ew_unit_system units) {
  g_autofree char *says = ew_message_text(o->says, units);
  ew_say("\n%s", says);
  for (guint i = 0; i < o->notes->len; i++) {
    g_autofree char *note = ew_message_text(o->notes->pdata[i], units);
    ew_say("  %s", note);
  }
}

static char *pulls_of(int count) {
  return ew_words(ew_tr_many("%d pull", "%d pulls", (guint64)count), count);
}

static void say_next(const struct ew_next *next, enum ew_unit_system units) {
  g_autofree char *says = ew_message_text(next->says, units);
  ew_say("%s", says);
  for (guint i = 0; i < next->why->len; i++) {
    g_autofree char *why = ew_message_text(next->why->pdata[i], units);
    ew_say("  %s", why);
  }
}

/* "A 5 -0.34, B 6 +0.50": the parts of the difference; files have no number. */
static void say_weights(const struct ew_comparison *c) {
  g_autoptr(GString) line = g_string_new(NULL);
  for (gsize i = 0; i < c->weights; i++) {
    gint64 id = c->weight[i].id;
    double weight = c->weight[i].weight;
    char side = "AB"[c->weight[i].side];
    g_autofree char *one = id ? ew_words("%c %" G_GINT64_FORMAT " %+.2f", side, id, weight)
                              : ew_words("%c %+.2f", side, weight);
    g_string_append_printf(line, "%s%s", i ? "; " : "", one);
  }
  ew_say("what each pull weighs in the difference: %s", line->str);
}

static void say_comparison(const struct ew_comparison *c, enum ew_unit_system units) {
  g_autofree char *line = ew_comparison_line(c);
  ew_say("%s\n", line);
  g_autofree char *safe = ew_message_text(c->safe, units),
                  *valid = ew_message_text(c->valid, units),
                  *better = ew_message_text(c->better, units),
                  *worth = ew_message_text(c->worth, units);
  ew_say("  safe?     %s", safe);
  ew_say("  valid?    %s", valid);
  ew_say("  better?   %s", better);
  ew_say("  worth it? %s\n", worth);
  g_autofree char *of_a = pulls_of(c->n_a), *of_b = pulls_of(c->n_b),
                  *mean_a = ew_quantity_format(EW_KIND_TORQUE, units, c->mean_a_n_m, 1),
                  *mean_b = ew_quantity_format(EW_KIND_TORQUE, units, c->mean_b_n_m, 1);
  if (isfinite(c->low))
    ew_say("A %s (%s), B %s (%s): corrected torque, mean of its logarithm over %#.0f to %#.0f rpm; "
           "%.1f %% interval",
           mean_a, of_a, mean_b, of_b, c->band_low_rpm, c->band_high_rpm, 100 * c->confidence);
  else
    ew_say("A %s (%s), B %s (%s): corrected torque, mean of its logarithm over %#.0f to %#.0f rpm; "
           "no interval",
           mean_a, of_a, mean_b, of_b, c->band_low_rpm, c->band_high_rpm);
  if (c->freedom > 0 && isfinite(c->smallest_margin))
    ew_say("one pull repeats to %.2f %% here (%s, %.1f degrees of freedom); smallest margin this "
           "can show: %.1f %%",
           100 * c->sd, ew_tr(ew_level_words[c->level]->text), c->sd_freedom,
           100 * c->smallest_margin);
  else if (c->freedom > 0)
    ew_say("these pulls are equal to the last digit: how well one repeats here is not known");
  if (c->band.half_width) {
    ew_say("\n%8s %10s %10s", ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI), "B - A, %",
           ew_tr("band, %"));
    gsize stride = MAX(c->points / 14, 1);
    for (gsize j = 0; j < c->points; j += stride)
      ew_say("%8.0f %+10.2f   ± %6.2f", c->speed_rpm[j], 100 * expm1(c->band.difference[j]),
             100 * c->band.half_width[j]);
    ew_say("the band holds over the whole range at once (95 %%); detail finer than the smoothing "
           "does not show");
  }
  if (c->weights)
    say_weights(c);
  for (guint i = 0; i < c->notes->len; i++) {
    g_autofree char *note = ew_message_text(c->notes->pdata[i], units);
    ew_say("%s", note);
  }
  if (c->day)
    say_day(c->day, units);
  if (c->verdict == EW_VERDICT_GAIN && c->next->what != EW_NEXT_NONE)
    say_next(c->next, units);
  ew_say_cautions(c->warnings, units);
}

void ew_call_answer_comparison(const struct ew_call *call, const struct ew_comparison *c) {
  if (!call->json) {
    say_comparison(c, call->units);
    return;
  }
  struct ew_json json = ew_answer_begin();
  ew_comparison_write_json(c, &json);
  ew_answer_end(&json);
}

/* compare A B by position, or --a ... --b ... */
static gboolean load_sides(const struct ew_call *call, struct ew_desk *desk, struct ew_sides *s,
                           GError **error) {
  if (call->arguments->len == 2 && (!ew_desk_load(desk, ew_call_argument(call, 0), s->a, error) ||
                                    !ew_desk_load(desk, ew_call_argument(call, 1), s->b, error)))
    return FALSE;
  if (call->arguments->len == 1)
    return ew_refuse(error, "compare needs two sides: 'compare A B', or --a FILE... --b FILE...");
  if (!ew_call_load_list(call, "a", desk, s->a, error) ||
      !ew_call_load_list(call, "b", desk, s->b, error) ||
      !ew_call_load_history(call, desk, s->history, s->groups, error))
    return FALSE;
  return (s->a->len > 0 && s->b->len > 0) ||
         ew_refuse(error,
                   "compare needs pulls on both sides: 'compare A B', or --a FILE... --b FILE...");
}

static gboolean read_level(const struct ew_call *call, int *level, GError **error) {
  const char *name = ew_call_option(call, "level");
  *level = -1;
  if (!name)
    return TRUE;
  for (int i = 0; i < EW_LEVELS_COUNT; i++)
    if (strcmp(name, ew_level_names[i]) == 0)
      *level = i;
  return *level >= 0 ||
         ew_refuse(error, "--level '%s' is not one of consecutive, restart, day, remount", name);
}

/* The comparison that the call asks for; NULL, and why. */
static struct ew_comparison *ask(const struct ew_call *call, gboolean keep, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_desk desk = {0};
  struct ew_sides s = ew_sides_new();
  struct ew_question_options q = {.order = ew_call_option(call, "order"),
                                  .named_only = ew_call_has(call, "named-only"),
                                  .rested = ew_call_has(call, "rested")};
  struct ew_speed_use use;
  gboolean good = ew_call_open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "margin", EW_KIND_RATIO, 0.01, &q.margin, error) &&
                  read_level(call, &q.level, error) && ew_call_despite(call, &q.despite, error) &&
                  read_band(call, &q.band_low_rpm, &q.band_high_rpm, error) &&
                  load_sides(call, &desk, &s, error) &&
                  ew_call_use_of_speeds(call, &desk, s.a, &use, &q, error);
  if (good && (q.margin < 0 || q.margin > 0.2))
    good = ew_refuse(error, "--margin: %.1f %% is outside 0 to 20 %%", 100 * q.margin);
  q.keep = good && keep && !ew_call_has(call, "car") && ew_call_keeps(call, book);
  struct ew_comparison *c =
      good ? ew_ask_compare(&desk, s.a, s.b, s.history, s.groups, &q, error) : NULL;
  ew_sides_free(&s);
  ew_desk_clear(&desk);
  return c;
}

static gboolean run_compare(const struct ew_call *call, GError **error) {
  struct ew_comparison *c = ask(call, TRUE, error);
  if (c)
    ew_call_answer_comparison(call, c);
  gboolean good = c != NULL;
  ew_comparison_free(c);
  return good;
}

/* compare gives the answer itself; asking what to run next does not count as a look at it. */
static gboolean run_next(const struct ew_call *call, GError **error) {
  struct ew_comparison *c = ask(call, FALSE, error);
  if (c && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_next_write_json(c->next, &json);
    ew_answer_end(&json);
  } else if (c)
    say_next(c->next, call->units);
  gboolean good = c != NULL;
  ew_comparison_free(c);
  return good;
}
const struct ew_command ew_command_judge_next = {
    .name = "judge next",
    .summary = EW_TEXT("What to run next to settle a comparison, and what that costs"),
    .takes = "[A B]",
    .most = 2,
    .options = compare_options,
    .run = run_next,
    .examples = "judge next 12 13\njudge next --a 12 14 --b 13 --rested",
    .more = EW_TEXT("A gain is believed only after A has run again, a pull that fits none of the "
                    "others is run again, and after a rest or\na stop A runs first. Nothing is "
                    "kept, and it does not count as a look.")};

const struct ew_command ew_command_compare = {
    .name = "compare",
    .summary = EW_TEXT("Was that better? A tested answer, or what it would take"),
    .takes = "[A B]",
    .most = 2,
    .options = compare_options,
    .run = run_compare,
    .examples = "compare before.csv after.csv\ncompare --a 12 14 --b 13 15\n"
                "compare --a a1.csv a2.csv --b b1.csv b2.csv --history 1=x.csv --history 1=y.csv "
                "--margin \"1 %\"",
    .more = EW_TEXT("Answers: gain, loss, same (inside the margin), can't tell yet (with the pulls "
                    "that would settle it), not comparable.\nAsked in this order: safe? valid? "
                    "better? worth it? Inside the margin 'same' wins over gain and loss. Pulls of "
                    "the\nbook are judged by how well this cell repeats; earlier looks at the same "
                    "pair are counted, and the interval is wider for it.\nFiles given here count "
                    "as one look; with one file a side and no --history, no answer is possible.")};
