/* build lash: one valve's lash into the record; the history of all, and what to set cold next time. */
#include "cli/build_call.h"
#include "base/words.h"
#include <math.h>

/* What a side starts with: growth learnt, and the cold setting that follows. */
struct proposal {
  struct ew_growth growth;
  double wanted_m, cold_m, low_m, high_m;
};

static struct proposal propose(struct ew_build_call *b, int side, GPtrArray **from) {
  struct proposal p = {.growth = ew_build_growth(b->book, ew_build_facts_of(b->bench.build),
                                                 b->bench.build->id, side, from)};
  p.wanted_m = ew_lash_wanted_m(&b->bench.engine, side);
  p.cold_m = p.wanted_m - p.growth.mean_m;
  p.low_m = p.wanted_m - p.growth.high_m;
  p.high_m = p.wanted_m - p.growth.low_m;
  return p;
}

static void say_proposal(const struct proposal *p, const char *side, enum ew_unit_system units) {
  if (p->growth.builds == 0) {
    ew_say("%-8s nothing known yet: no other build with this block, head and rocker has cold and "
           "hot readings",
           side);
    return;
  }
  if (isnan(p->wanted_m)) {
    ew_say("%-8s the engine's file has no hot lash, or says hydraulic lifters: nothing to propose",
           side);
    return;
  }
  g_autofree char *wanted = ew_build_show(EW_KIND_LENGTH, units, p->wanted_m),
                  *cold = ew_build_show(EW_KIND_LENGTH, units, p->cold_m),
                  *low = ew_build_show(EW_KIND_LENGTH, units, p->low_m),
                  *high = ew_build_show(EW_KIND_LENGTH, units, p->high_m);
  if (isnan(p->growth.low_m))
    ew_say("%-8s hot %s: set cold %s, from one valve only: range not known", side, wanted, cold);
  else if (p->low_m < 0)
    ew_say("%-8s hot %s: %d valves (builds: %d) differ by more than the lash itself: take more "
           "readings, nothing is proposed yet",
           side, wanted, p->growth.valves, p->growth.builds);
  else
    ew_say(
        p->growth.few
            ? EW_TEXT("%-8s hot %s: set cold %s (95 %% of single valves: %s to %s), from builds: "
                      "%d, valves: %d: FEW DATA")
            : EW_TEXT("%-8s hot %s: set cold %s (95 %% of single valves: %s to %s), from builds: "
                      "%d, valves: %d"),
        side, wanted, cold, low, high, p->growth.builds, p->growth.valves);
  if (p->growth.builds == 1)
    ew_say("         one build only: other builds may differ by more than this range");
  if (fabs(p->growth.slope_m_s) > p->growth.slope_error_m_s)
    ew_say("         growth changes by %+.3f mm in ten minutes after shut-down: take readings in "
           "the same order and time",
           p->growth.slope_m_s * 600e3);
}

static void write_cell(double value_mm, gboolean sign, char *cell, gsize size) {
  g_autofree char *text = sign ? ew_words("%+.3f", value_mm) : ew_words("%.3f", value_mm);
  g_strlcpy(cell, text, size);
}

static void say_lash_row(const struct ew_lash_row *r) {
  const double values[] = {r->wanted_m, r->cold_m, r->hot_m, r->growth_m,
                           isnan(r->hot_change_m) ? r->cold_change_m : r->hot_change_m};
  char cells[5][16];
  for (int k = 0; k < 5; k++) {
    if (isnan(values[k]))
      g_strlcpy(cells[k], "-", sizeof cells[k]);
    else
      write_cell(values[k] * 1e3, k == 4, cells[k], sizeof cells[k]);
  }
  ew_say("%-12s %8s %8s %8s %8s %8s", r->valve, cells[0], cells[1], cells[2], cells[3], cells[4]);
}

static void write_lash_row(const void *row, struct ew_json *json) {
  const struct ew_lash_row *r = row;
  ew_json_text(json, "valve", r->valve);
  ew_json_number(json, "wanted_hot_m", r->wanted_m);
  ew_json_number(json, "cold_m", r->cold_m);
  ew_json_number(json, "hot_m", r->hot_m);
  ew_json_number(json, "growth_m", r->growth_m);
  ew_json_number(json, "hot_change_m", r->hot_change_m);
  ew_json_number(json, "cold_change_m", r->cold_change_m);
}

static void json_proposal(struct ew_json *json, const char *side, const struct proposal *p) {
  ew_json_open(json, side);
  ew_json_integer(json, "builds", p->growth.builds);
  ew_json_integer(json, "valves", p->growth.valves);
  ew_json_boolean(json, "few_data", p->growth.few);
  ew_json_number(json, "growth_m", p->growth.mean_m);
  ew_json_number(json, "growth_low_m", p->growth.low_m);
  ew_json_number(json, "growth_high_m", p->growth.high_m);
  ew_json_number(json, "wanted_hot_m", p->wanted_m);
  ew_json_number(json, "cold_m", p->cold_m);
  ew_json_number(json, "cold_low_m", p->low_m);
  ew_json_number(json, "cold_high_m", p->high_m);
  ew_json_close(json);
}

static void show_lash(const struct ew_call *call, struct ew_build_call *b) {
  g_autoptr(GArray) rows = ew_lash_rows(b->bench.build, &b->bench.engine);
  g_autoptr(GPtrArray) from = g_ptr_array_new_with_free_func(g_free);
  struct proposal p[2] = {propose(b, 0, &from), propose(b, 1, NULL)};
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b->bench.engine_name);
    json_proposal(&json, "inlet", &p[0]);
    json_proposal(&json, "exhaust", &p[1]);
    ew_json_texts(&json, "learnt_from", from);
    ew_json_rows(&json, "valves", rows, write_lash_row);
    ew_answer_end(&json);
    return;
  }
  ew_say("lash, mm     hot card     cold      hot   growth   change");
  for (guint i = 0; i < rows->len; i++)
    say_lash_row(&g_array_index(rows, struct ew_lash_row, i));
  ew_say("\nnext build of these materials");
  say_proposal(&p[0], ew_tr("inlet"), call->units);
  say_proposal(&p[1], ew_tr("exhaust"), call->units);
  ew_say("A starting point: the hot reading on the engine decides, and the cam maker's card comes "
         "first.");
}

static gboolean run_lash(const struct ew_call *call, GError **error) {
  if (call->arguments->len) {
    struct ew_node *map = ew_build_call_map(call, EW_BUILD_LASH);
    ew_node_put(map, "valve", ew_call_argument(call, 0));
    return ew_build_call_keep(call, EW_BUILD_LASH, map, error);
  }
  struct ew_build_call b;
  gboolean good = ew_build_call_open(call, TRUE, &b, error);
  if (good)
    show_lash(call, &b);
  ew_build_call_clear(&b);
  return good;
}
static const struct ew_option_spec lash_options[] = {
    EW_BUILD_OPTIONS,
    {"cold", "Q", EW_TEXT("lash cold"), FALSE},
    {"hot", "Q", EW_TEXT("lash hot"), FALSE},
    {"head-temperature", "Q", EW_TEXT("of the head at the hot reading"), FALSE},
    {"since-stop", "Q", EW_TEXT("time since shut-down"), FALSE},
    {"stage", EW_TEXT("TEXT"), EW_TEXT("run-in, after day 1..."), FALSE},
    {"sure", NULL, EW_TEXT("the figure is meant, though it is far outside what is usual"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_lash = {
    .name = "build lash",
    .summary = EW_TEXT("Record a valve's lash; without a valve, the history and what to set cold"),
    .takes = EW_TEXT("[VALVE]"),
    .most = 1,
    .options = lash_options,
    .run = run_lash,
    .examples = "build lash \"5 exhaust\" --stage run-in --cold \"0.31 mm\" --hot \"0.45 mm\" "
                "--since-stop \"5 min\"\nbuild lash"};
