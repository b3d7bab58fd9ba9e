/* The questions: compare, judge sweep, judge step-up. */
#include "base/words.h"
#include "cli/command.h"
#include "desk/question.h"
#include "judge/day_opinion.h"
#include "judge/next.h"
#include <math.h>
#include <string.h>

#define DESPITE                                                                                    \
  {                                                                                                \
    "despite", EW_TEXT("FACTS"),                                                                   \
        EW_TEXT("ask on purpose although they differ in these: engine, cell, set-up, start"),      \
        FALSE                                                                                      \
  }

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
    DESPITE,
    {"named-only", NULL,
     EW_TEXT("only the pulls that are named count, not others of the book that repeat them"),
     FALSE},
    {"rested", NULL,
     EW_TEXT("the engine was stopped, or rested long, since its last pull: for what to run next"),
     FALSE},
    {"no-keep", NULL, EW_TEXT("do not keep the answer in the book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

gboolean ew_call_despite(const struct ew_call *call, guint *despite, GError **error) {
  const char *text = ew_call_option(call, "despite");
  *despite = 0;
  return !text || ew_despite_read(text, despite, error);
}

static gboolean load_list(const struct ew_call *call, const char *option, struct ew_desk *desk,
                          GPtrArray *into, GError **error) {
  g_autofree const char **list = ew_call_options(call, option);
  for (int i = 0; list[i]; i++)
    if (!ew_desk_load(desk, list[i], into, error))
      return FALSE;
  return TRUE;
}

static gboolean load_history(const struct ew_call *call, struct ew_desk *desk, GPtrArray *into,
                             GArray *groups, GError **error) {
  g_autofree const char **list = ew_call_options(call, "history");
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; list[i]; i++) {
    const char *equals = strchr(list[i], '=');
    if (!equals)
      return ew_refuse(
          error,
          "--history '%s': write GROUP=FILE, for example --history 1=a.csv --history 1=b.csv",
          list[i]);
    char *name = g_strndup(list[i], (gsize)(equals - list[i]));
    guint at;
    int group;
    if (g_ptr_array_find_with_equal_func(names, name, g_str_equal, &at)) {
      group = (int)at;
      g_free(name);
    } else {
      group = (int)names->len;
      g_ptr_array_add(names, name);
    }
    guint before = into->len;
    if (!ew_desk_load(desk, equals + 1, into, error))
      return FALSE;
    for (guint k = before; k < into->len; k++)
      g_array_append_val(groups, group);
  }
  return TRUE;
}

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
  ew_say("A %s (%s), B %s (%s): corrected torque, mean of its logarithm over %#.0f to %#.0f rpm; "
         "%.1f %% interval",
         mean_a, of_a, mean_b, of_b, c->band_low_rpm, c->band_high_rpm, 100 * c->confidence);
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

struct sides {
  GPtrArray *a, *b, *history, *pulls;
  GArray *groups;
};

static struct sides sides_new(void) {
  GDestroyNotify clear = (GDestroyNotify)ew_loaded_free;
  return (struct sides){
      g_ptr_array_new_with_free_func(clear), g_ptr_array_new_with_free_func(clear),
      g_ptr_array_new_with_free_func(clear), g_ptr_array_new_with_free_func(clear),
      g_array_new(FALSE, FALSE, sizeof(int))};
}

static void sides_free(struct sides *s) {
  g_ptr_array_unref(s->a);
  g_ptr_array_unref(s->b);
  g_ptr_array_unref(s->history);
  g_ptr_array_unref(s->pulls);
  g_array_unref(s->groups);
}

static gboolean open_desk(const struct ew_call *call, struct ew_book **book, struct ew_desk *desk,
                          GError **error) {
  GError *problem = NULL;
  *book = ew_call_book(call, FALSE, FALSE, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  return ew_call_desk(call, *book, desk, error);
}

/* compare A B by position, or --a ... --b ... */
static gboolean load_sides(const struct ew_call *call, struct ew_desk *desk, struct sides *s,
                           GError **error) {
  if (call->arguments->len == 2 && (!ew_desk_load(desk, ew_call_argument(call, 0), s->a, error) ||
                                    !ew_desk_load(desk, ew_call_argument(call, 1), s->b, error)))
    return FALSE;
  if (call->arguments->len == 1)
    return ew_refuse(error, "compare needs two sides: 'compare A B', or --a FILE... --b FILE...");
  if (!load_list(call, "a", desk, s->a, error) || !load_list(call, "b", desk, s->b, error) ||
      !load_history(call, desk, s->history, s->groups, error))
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
  struct sides s = sides_new();
  struct ew_question_options q = {.order = ew_call_option(call, "order"),
                                  .named_only = ew_call_has(call, "named-only"),
                                  .rested = ew_call_has(call, "rested"),
                                  .keep = keep};
  gboolean good = open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "margin", EW_KIND_RATIO, 0.01, &q.margin, error) &&
                  read_level(call, &q.level, error) && ew_call_despite(call, &q.despite, error) &&
                  read_band(call, &q.band_low_rpm, &q.band_high_rpm, error) &&
                  load_sides(call, &desk, &s, error);
  if (good && (q.margin < 0 || q.margin > 0.2))
    good = ew_refuse(error, "--margin: %.1f %% is outside 0 to 20 %%", 100 * q.margin);
  struct ew_comparison *c =
      good ? ew_ask_compare(&desk, s.a, s.b, s.history, s.groups, &q, error) : NULL;
  sides_free(&s);
  ew_desk_clear(&desk);
  return c;
}

static gboolean run_compare(const struct ew_call *call, GError **error) {
  struct ew_comparison *c = ask(call, !ew_call_has(call, "no-keep"), error);
  if (c && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_comparison_write_json(c, &json);
    ew_answer_end(&json);
  } else if (c)
    say_comparison(c, call->units);
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
    DESPITE,
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
  struct sides s = sides_new();
  double margin, reserve;
  guint despite = 0;
  gboolean good = ew_call_despite(call, &despite, error) && open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "margin", EW_KIND_RATIO, 0.005, &margin, error) &&
                  ew_call_quantity(call, "reserve", spark ? EW_KIND_ANGLE : EW_KIND_LAMBDA,
                                   spark ? 2 : 0.01, &reserve, error);
  for (guint i = 1; good && i < call->arguments->len; i++)
    good = ew_desk_load(&desk, ew_call_argument(call, i), s.pulls, error);
  good = good && load_list(call, "pulls", &desk, s.pulls, error) &&
         load_history(call, &desk, s.history, s.groups, error) && apply_seen(call, s.pulls, error);
  struct ew_sweep *sweep =
      good
          ? ew_ask_sweep(&desk, s.pulls, spark ? EW_SWEEP_SPARK : EW_SWEEP_MIXTURE, margin, reserve,
                         s.history, s.groups, despite, !ew_call_has(call, "no-keep"), error)
          : NULL;
  if (sweep && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_sweep_write_json(sweep, &json);
    ew_answer_end(&json);
  } else if (sweep)
    say_sweep(sweep, s.pulls, spark ? "deg" : "lambda");
  good = sweep != NULL;
  ew_sweep_free(sweep);
  sides_free(&s);
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

static const struct ew_option_spec step_options[] = {
    EW_DESK_OPTIONS,
    {"before", EW_TEXT("PULL|FILE"),
     EW_TEXT("a good pull at a lower limit, for the engine's own trend"), FALSE},
    {"next", "Q", EW_TEXT("the limit asked for (default: one is proposed)"), FALSE},
    {"no-keep", NULL, EW_TEXT("do not keep the answer in the book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static void say_step(const struct ew_step_up *s, enum ew_unit_system units) {
  g_autofree char *says = ew_message_text(s->says, units);
  ew_say("%s\n", says);
  for (guint i = 0; i < s->rows->len; i++) {
    const struct ew_step_up_row *row = &g_array_index(s->rows, struct ew_step_up_row, i);
    g_autofree char *found = ew_message_text(row->found, units);
    ew_say("  %-13s  %-16s  %s", ew_tr(ew_step_up_words[row->answer]), ew_tr(row->what), found);
  }
  if (!isnan(s->ceiling_rpm)) {
    g_autofree char *from = ew_message_text(s->ceiling_from, units);
    ew_say("\nceiling %#.0f rpm: %s", s->ceiling_rpm, from);
  }
  ew_say("This is not an order. The limits of the engine's and the dyno's makers come first; look "
         "underneath before going on.");
}

static gboolean run_step(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_desk desk = {0};
  struct sides s = sides_new();
  double next;
  gboolean good = open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "next", EW_KIND_ROTATIONAL_SPEED, NAN, &next, error) &&
                  ew_desk_load(&desk, ew_call_argument(call, 0), s.a, error) &&
                  load_list(call, "before", &desk, s.b, error);
  struct ew_step_up *step = NULL;
  if (good)
    step = ew_ask_step_up(&desk, g_ptr_array_index(s.a, s.a->len - 1),
                          s.b->len ? g_ptr_array_index(s.b, 0) : NULL, next,
                          !ew_call_has(call, "no-keep"), error);
  if (step && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_step_up_write_json(step, &json);
    ew_answer_end(&json);
  } else if (step)
    say_step(step, call->units);
  good = step != NULL;
  ew_step_up_free(step);
  sides_free(&s);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_judge_step_up = {
    .name = "judge step-up",
    .summary = EW_TEXT("May the speed limit go up? No objection, hold, or stop and look"),
    .takes = EW_TEXT("PULL|FILE"),
    .least = 1,
    .most = 1,
    .options = step_options,
    .run = run_step,
    .examples = "judge step-up 9\njudge step-up 9 --next \"6500 rpm\" --before 8"};
