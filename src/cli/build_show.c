/* build show, check, lash, walk, pairing, find, due, family: what a build record answers. */
#include "cli/build_call.h"
#include "engine/build_fit.h"
#include "engine/build_position.h"
#include "engine/build_walk.h"
#include "engine/valve_motion.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec build_options[] = {EW_BUILD_OPTIONS, {NULL, NULL, NULL, FALSE}};

static void json_lines(struct ew_json *json, const GArray *lines) {
  ew_json_open_array(json, "measurements");
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    ew_json_open(json, NULL);
    if (l->measure)
      ew_json_integer(json, "id", l->measure->mark.id);
    ew_json_text(json, "item", l->name);
    ew_json_text(json, "position", l->position);
    ew_json_text(json, "stage", l->stage);
    ew_json_text(json, "kind", ew_build_quantity_name(l->kind));
    ew_json_integer(json, "readings", (gint64)l->value.count);
    ew_json_number(json, "mean", l->value.count ? l->value.mean : (double)NAN);
    ew_json_number(json, "expanded_uncertainty", l->value.count ? l->value.expanded : (double)NAN);
    ew_json_number(json, "low", l->low);
    ew_json_number(json, "high", l->high);
    ew_json_text(json, "target_from", l->from);
    ew_json_text(json, "verdict", ew_fit_word(l->verdict));
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void json_records(struct ew_json *json, const struct ew_build *build) {
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++) {
    if (k == EW_BUILD_ITEM || k == EW_BUILD_STEP)
      continue;
    ew_json_open_array(json, ew_build_kind_key(k));
    for (guint i = 0; i < build->records[k]->len; i++) {
      ew_json_open(json, NULL);
      ew_build_record_json(k, build->records[k]->pdata[i], json);
      ew_json_close(json);
    }
    ew_json_close_array(json);
  }
}

static void json_steps(struct ew_json *json, const struct ew_build *build) {
  const struct ew_build_step *step;
  ew_json_open_array(json, "steps");
  EW_BUILD_EACH(build, STEP, struct ew_build_step, step, i) {
    ew_json_open(json, NULL);
    ew_json_text(json, "list", step->list);
    ew_json_text(json, "step", step->step);
    ew_json_text(json, "before", ew_build_gate_names[step->before]);
    ew_json_text(json, "state", ew_build_step_state_word(ew_build_step_state(build, step, NULL)));
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void json_attachments(struct ew_json *json, struct ew_book *book, gint64 build_id) {
  const struct ew_owner owner = {EW_OWNER_BUILD, build_id, NULL};
  g_autoptr(GArray) rows = ew_attachment_list(book, &owner, FALSE, NULL);
  ew_json_open_array(json, "attachments");
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_attachment_row *r = &g_array_index(rows, struct ew_attachment_row, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "id", r->id);
    ew_json_text(json, "name", r->name);
    ew_json_text(json, "media", r->media);
    ew_json_integer(json, "bytes", r->bytes);
    ew_json_text(json, "sha256", r->sha256);
    ew_json_text(json, "place", r->place);
    ew_json_text(json, "note", r->note);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void say_lines(const GArray *lines, enum ew_unit_system units) {
  const char *name = NULL, *stage = NULL;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    if (l->name != name || g_strcmp0(l->stage, stage) != 0)
      ew_say("\n%s%s%s", l->name, l->stage ? ", " : "", l->stage ? l->stage : "");
    name = l->name;
    stage = l->stage;
    if (l->value.count == 0) {
      ew_say("  %-18s not measured", l->position);
      continue;
    }
    g_autofree char *mean = ew_build_show(l->kind, units, l->value.mean),
                    *expanded = ew_build_show_doubt(l->kind, units, l->value.expanded),
                    *low = isnan(l->low) ? g_strdup("") : ew_build_show(l->kind, units, l->low),
                    *high = isnan(l->high) ? g_strdup("") : ew_build_show(l->kind, units, l->high);
    ew_say("  %-18s %12s ± %-10s %s%s%s  %s", l->position, mean, expanded, low,
           l->from ? " to " : "", high, ew_fit_word(l->verdict));
  }
}

static void say_rest(const struct ew_build_call *b) {
  const struct ew_build *build = b->bench.build;
  const struct ew_build_part *part;
  const struct ew_build_after *after;
  if (build->records[EW_BUILD_PART]->len)
    ew_say("\nparts and fluids");
  EW_BUILD_EACH(build, PART, struct ew_build_part, part, i)
  ew_say("  %-20s %-14s batch %-10s serial %-10s %s", part->part, part->number ? part->number : "-",
         part->batch ? part->batch : "-", part->serial ? part->serial : "-",
         part->position ? part->position : "");
  if (build->records[EW_BUILD_AFTER]->len)
    ew_say("\nafter delivery");
  EW_BUILD_EACH(build, AFTER, struct ew_build_after, after, i)
  ew_say("  %.10s  %s (%.1f h, %d runs)", after->mark.at, after->what, after->running_s / 3600,
         after->runs);
  const struct ew_owner owner = {EW_OWNER_BUILD, build->id, NULL};
  g_autoptr(GArray) files = ew_attachment_list(b->book, &owner, FALSE, NULL);
  if (files->len)
    ew_say("\nattachments");
  for (guint i = 0; i < files->len; i++) {
    const struct ew_attachment_row *r = &g_array_index(files, struct ew_attachment_row, i);
    ew_say("  %" G_GINT64_FORMAT "  %s, %.0f kB, SHA-256 %.16s...  %s", r->id, r->name,
           (double)r->bytes / 1024, r->sha256, r->note ? r->note : "");
  }
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  if (!ew_build_call_open(call, TRUE, &b, error)) {
    ew_build_call_clear(&b);
    return FALSE;
  }
  const struct ew_build_facts *facts = ew_build_facts_of(b.bench.build);
  g_autoptr(GArray) lines = ew_build_lines(b.bench.build, &b.bench.engine);
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b.bench.engine_name);
    ew_json_integer(&json, "build_id", b.bench.build->id);
    json_lines(&json, lines);
    json_records(&json, b.bench.build);
    json_steps(&json, b.bench.build);
    json_attachments(&json, b.book, b.bench.build->id);
    ew_answer_end(&json);
  } else {
    ew_say("%s: %s%s%s", b.bench.engine_name, facts->build ? facts->build : "build",
           facts->family ? ", of the family " : "", facts->family ? facts->family : "");
    say_lines(lines, call->units);
    say_rest(&b);
  }
  ew_build_call_clear(&b);
  return TRUE;
}
const struct ew_command ew_command_build_show = {
    .name = "build show",
    .summary = "A build: measurements against their targets, parts, contacts, attachments",
    .takes = "",
    .options = build_options,
    .run = run_show,
    .examples = "build show\nbuild show --engine \"hill-climb six\" --units us --json"};

static gboolean gate_of(const struct ew_call *call, enum ew_build_gate *gate, GError **error) {
  const char *text = ew_call_option(call, "before");
  *gate = EW_GATE_NONE;
  for (int k = 1; text && ew_build_gate_names[k]; k++)
    if (g_ascii_strcasecmp(ew_build_gate_names[k], text) == 0)
      *gate = k;
  return !text || *gate != EW_GATE_NONE ||
         ew_refuse(error, "--before '%s' is none of first fire, load, dispatch", text);
}

static gboolean result_of(struct ew_build_call *b, struct ew_build_result *result, GError **error) {
  struct ew_desk desk = {0};
  gboolean good = ew_desk_open(&desk, b->book, error) &&
                  ew_build_result_of(&desk, b->bench.engine_id, result, error);
  ew_desk_clear(&desk);
  return good;
}

static void say_check(const struct ew_build_call *b, const GArray *findings,
                      const GPtrArray *open) {
  ew_say("%s: %u finding%s", b->bench.engine_name, findings->len, findings->len == 1 ? "" : "s");
  for (guint i = 0; i < findings->len; i++) {
    const struct ew_finding *f = &g_array_index(findings, struct ew_finding, i);
    ew_say("  %-8s %s: %s", ew_warning_word(f->grade), f->about, f->text);
  }
  if (open && open->len)
    ew_say("\nnot done yet");
  for (guint i = 0; open && i < open->len; i++)
    ew_say("  %s", (char *)open->pdata[i]);
}

static gboolean run_check(const struct ew_call *call, GError **error) {
  struct ew_build_call b = {0};
  enum ew_build_gate gate;
  struct ew_build_result result;
  if (!gate_of(call, &gate, error))
    return FALSE;
  if (!ew_build_call_open(call, TRUE, &b, error) || !result_of(&b, &result, error)) {
    ew_build_call_clear(&b);
    return FALSE;
  }
  g_autoptr(GArray) findings = ew_build_check(b.bench.build, &b.bench.engine, &result, call->units);
  g_autoptr(GPtrArray) open = gate ? ew_build_open_steps(b.bench.build, gate) : NULL;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b.bench.engine_name);
    ew_json_open_array(&json, "findings");
    for (guint i = 0; i < findings->len; i++) {
      const struct ew_finding *f = &g_array_index(findings, struct ew_finding, i);
      ew_json_open(&json, NULL);
      ew_json_text(&json, "grade", ew_warning_word(f->grade));
      ew_json_text(&json, "about", f->about);
      ew_json_text(&json, "text", f->text);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    if (open)
      ew_json_texts(&json, "open", open);
    ew_answer_end(&json);
  } else
    say_check(&b, findings, open);
  gboolean blocked = open && open->len;
  if (blocked)
    g_set_error(error, EW_ERROR, EW_ERROR_NO, "%u steps stand open before %s", open->len,
                ew_build_gate_names[gate]);
  ew_build_call_clear(&b);
  return !blocked;
}
static const struct ew_option_spec check_options[] = {
    EW_BUILD_OPTIONS,
    {"before", "GATE", "also what must be done before: first fire, load, dispatch", FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_check = {
    .name = "build check",
    .summary = "What is out, missing or contradictory in a build, and what is not done yet",
    .takes = "",
    .options = check_options,
    .run = run_check,
    .examples =
        "build check\nbuild check --before \"first fire\"\nbuild check --before load --json",
    .more = "Findings do not change the exit code. With --before, steps that stand open make it 1. "
            "The program proves nothing about an engine: it shows what was written down."};

/* What a side starts with: growth learnt, and the cold setting that follows. */
struct proposal {
  struct ew_growth growth;
  double wanted_m, cold_m, low_m, high_m;
};

static struct proposal propose(struct ew_build_call *b, int side, GPtrArray **from) {
  struct proposal p = {.growth = ew_build_growth(b->book, ew_build_facts_of(b->bench.build),
                                                 b->bench.build->id, side, from)};
  p.wanted_m = ew_side_of(&b->bench.engine, side)->lash_m;
  p.cold_m = p.wanted_m - p.growth.mean_m;
  p.low_m = p.wanted_m - p.growth.high_m;
  p.high_m = p.wanted_m - p.growth.low_m;
  return p;
}

static void say_proposal(const struct proposal *p, const char *side, enum ew_unit_system units) {
  if (p->growth.builds == 0) {
    ew_say("%-8s nothing learnt yet: no other build with this block, head and rocker has cold and "
           "hot readings",
           side);
    return;
  }
  g_autofree char *wanted = ew_build_show(EW_KIND_LENGTH, units, p->wanted_m),
                  *cold = ew_build_show(EW_KIND_LENGTH, units, p->cold_m),
                  *low = ew_build_show(EW_KIND_LENGTH, units, p->low_m),
                  *high = ew_build_show(EW_KIND_LENGTH, units, p->high_m);
  if (isnan(p->growth.low_m))
    ew_say("%-8s hot %s: set cold %s, from one valve only: range not known", side, wanted, cold);
  else
    ew_say("%-8s hot %s: set cold %s (95 %% of single valves: %s to %s), from %d build%s, %d "
           "valves%s",
           side, wanted, cold, low, high, p->growth.builds, p->growth.builds == 1 ? "" : "s",
           p->growth.valves, p->growth.few ? ": FEW DATA" : "");
  if (p->growth.builds == 1)
    ew_say("         one build only: other builds may differ by more than this range");
  if (fabs(p->growth.slope_m_s) > p->growth.slope_error_m_s)
    ew_say("         growth changes by %+.3f mm in ten minutes after shut-down: read in the same "
           "order and time",
           p->growth.slope_m_s * 600e3);
}

static void say_lash_row(const struct ew_lash_row *r) {
  const double values[] = {r->wanted_m, r->cold_m, r->hot_m, r->growth_m,
                           isnan(r->hot_change_m) ? r->cold_change_m : r->hot_change_m};
  char cells[5][16];
  for (int k = 0; k < 5; k++) {
    if (isnan(values[k]))
      g_strlcpy(cells[k], "-", sizeof cells[k]);
    else
      g_snprintf(cells[k], sizeof cells[k], k == 4 ? "%+.3f" : "%.3f", values[k] * 1e3);
  }
  ew_say("%-12s %8s %8s %8s %8s %8s", r->valve, cells[0], cells[1], cells[2], cells[3], cells[4]);
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
    ew_json_open_array(&json, "valves");
    for (guint i = 0; i < rows->len; i++) {
      const struct ew_lash_row *r = &g_array_index(rows, struct ew_lash_row, i);
      ew_json_open(&json, NULL);
      ew_json_text(&json, "valve", r->valve);
      ew_json_number(&json, "wanted_hot_m", r->wanted_m);
      ew_json_number(&json, "cold_m", r->cold_m);
      ew_json_number(&json, "hot_m", r->hot_m);
      ew_json_number(&json, "growth_m", r->growth_m);
      ew_json_number(&json, "hot_change_m", r->hot_change_m);
      ew_json_number(&json, "cold_change_m", r->cold_change_m);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
    return;
  }
  ew_say("lash, mm     hot card     cold      hot   growth   change");
  for (guint i = 0; i < rows->len; i++)
    say_lash_row(&g_array_index(rows, struct ew_lash_row, i));
  ew_say("\nnext build of these materials");
  say_proposal(&p[0], "inlet", call->units);
  say_proposal(&p[1], "exhaust", call->units);
  ew_say(
      "A proposal to begin with: the hot reading on the engine decides, and the cam maker's card "
      "goes before it.");
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
    {"cold", "Q", "lash cold", FALSE},
    {"hot", "Q", "lash hot", FALSE},
    {"head-temperature", "Q", "of the head at the hot reading", FALSE},
    {"since-stop", "Q", "time since shut-down", FALSE},
    {"stage", "TEXT", "run-in, after day 1...", FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_lash = {
    .name = "build lash",
    .summary = "Lash of a valve into the record; without a valve the history and what to set cold",
    .takes = "[VALVE]",
    .most = 1,
    .options = lash_options,
    .run = run_lash,
    .examples = "build lash \"5 exhaust\" --stage run-in --cold \"0.31 mm\" --hot \"0.45 mm\" "
                "--since-stop \"5 min\"\nbuild lash"};

static void say_walk(const GArray *stops) {
  for (guint i = 0; i < stops->len; i++) {
    const struct ew_walk_stop *s = &g_array_index(stops, struct ew_walk_stop, i);
    g_autoptr(GString) valves = g_string_new(NULL);
    for (int k = 0; k < s->count; k++)
      g_string_append_printf(valves, "%s%d %s (%.0f)", k ? ", " : "", s->valves[k].cylinder,
                             ew_side_name(s->valves[k].side), s->valves[k].margin_deg);
    g_autofree char *where =
        s->firing && s->companion ? g_strdup_printf("cylinder %d at firing dead centre, %d rocks",
                                                    s->firing, s->companion)
        : s->firing               ? g_strdup_printf("cylinder %d at firing dead centre", s->firing)
                                  : g_strdup("by the wheel");
    ew_say("%2u  turn %5.1f to %5.1f deg  %-40s set %s", i + 1, s->turn_deg, s->crank_deg, where,
           valves->str);
  }
}

static gboolean run_walk(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  gboolean good = ew_build_call_open(call, FALSE, &b, error);
  g_autoptr(GArray) stops =
      good ? ew_walk(&b.bench.engine, ew_call_has(call, "fewest"), error) : NULL;
  if (stops && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open_array(&json, "stops");
    for (guint i = 0; i < stops->len; i++) {
      const struct ew_walk_stop *s = &g_array_index(stops, struct ew_walk_stop, i);
      ew_json_open(&json, NULL);
      ew_json_number(&json, "crank_deg", s->crank_deg);
      ew_json_number(&json, "turn_deg", s->turn_deg);
      ew_json_integer(&json, "firing", s->firing);
      ew_json_integer(&json, "companion", s->companion);
      ew_json_open_array(&json, "valves");
      for (int k = 0; k < s->count; k++) {
        g_autofree char *valve =
            g_strdup_printf("%d %s", s->valves[k].cylinder, ew_side_name(s->valves[k].side));
        ew_json_open(&json, NULL);
        ew_json_text(&json, "valve", valve);
        ew_json_number(&json, "margin_deg", s->valves[k].margin_deg);
        ew_json_close(&json);
      }
      ew_json_close_array(&json);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (stops) {
    ew_say(
        "%s: turn the crank the way the engine runs, from firing dead centre of the first in the "
        "order.\nIgnition off and leads away. In brackets: crank degrees to the end of the base "
        "circle.\n",
        b.bench.engine_name);
    say_walk(stops);
  }
  ew_build_call_clear(&b);
  return stops != NULL;
}
static const struct ew_option_spec walk_options[] = {
    EW_BUILD_OPTIONS,
    {"fewest", NULL, "the fewest crank positions that do", FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_walk = {
    .name = "build walk",
    .summary = "Crank positions for setting each valve, from firing order and cam",
    .takes = "",
    .options = walk_options,
    .run = run_walk,
    .examples = "build walk --book six.book\nbuild walk --fewest --book six.book"};

/* Least bore and gauge-point size of each cylinder; FALSE when one is missing. */
static gboolean sizes_of(const struct ew_build_call *b, const GArray *lines, double *bores,
                         double *pistons, const struct ew_build_item **clearance, GError **error) {
  int n = b->bench.engine.cylinders;
  *clearance = ew_build_item_of(b->bench.build, "piston clearance");
  const char *larger = *clearance ? (*clearance)->larger : "cylinder bore",
             *smaller = *clearance ? (*clearance)->smaller : "piston";
  for (int i = 0; i < n; i++) {
    bores[i] = INFINITY;
    pistons[i] = NAN;
  }
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    int k = ew_build_position_number(l->position) - 1;
    if (k < 0 || k >= n || l->value.count == 0)
      continue;
    if (g_strcmp0(l->name, larger) == 0)
      bores[k] = fmin(bores[k], l->value.mean);
    if (g_strcmp0(l->name, smaller) == 0)
      pistons[k] = l->value.mean;
  }
  for (int i = 0; i < n; i++)
    if (isinf(bores[i]) || isnan(pistons[i]))
      return ew_refuse(error, "'%s' and '%s' of cylinder %d are needed to pair them", larger,
                       smaller, i + 1);
  return TRUE;
}

struct pairing {
  gsize count;
  double wanted_m, worst_m, as_numbered_m;
  struct ew_fit_pair pairs[24];
};

static gboolean find_pairs(const struct ew_call *call, const struct ew_build_call *b,
                           struct pairing *p, GError **error) {
  double bores[24], pistons[24];
  const struct ew_build_item *item;
  g_autoptr(GArray) lines = ew_build_lines(b->bench.build, &b->bench.engine);
  if (!sizes_of(b, lines, bores, pistons, &item, error) ||
      !ew_call_quantity(call, "clearance", EW_KIND_LENGTH,
                        item ? (item->low + item->high) / 2 : (double)NAN, &p->wanted_m, error))
    return FALSE;
  if (isnan(p->wanted_m))
    return ew_refuse(error, "--clearance is needed: the template gives no target for it");
  p->count = (gsize)b->bench.engine.cylinders;
  p->worst_m = ew_selective_fit(bores, pistons, p->count, p->wanted_m, p->pairs, &p->as_numbered_m);
  return TRUE;
}

static void json_pairing(const struct pairing *p) {
  struct ew_json json = ew_answer_begin();
  ew_json_number(&json, "wanted_clearance_m", p->wanted_m);
  ew_json_number(&json, "greatest_deviation_m", p->worst_m);
  ew_json_number(&json, "greatest_deviation_as_numbered_m", p->as_numbered_m);
  ew_json_open_array(&json, "pairs");
  for (gsize i = 0; i < p->count; i++) {
    ew_json_open(&json, NULL);
    ew_json_integer(&json, "bore", p->pairs[i].bore);
    ew_json_integer(&json, "piston", p->pairs[i].piston);
    ew_json_number(&json, "clearance_m", p->pairs[i].clearance_m);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  ew_answer_end(&json);
}

static void say_pairing(const struct pairing *p, enum ew_unit_system units) {
  ew_say("bore  piston  clearance  (as numbered)");
  for (gsize i = 0; i < p->count; i++) {
    g_autofree char *clearance = ew_build_show(EW_KIND_LENGTH, units, p->pairs[i].clearance_m),
                    *numbered = ew_build_show(EW_KIND_LENGTH, units, p->pairs[i].as_numbered_m);
    ew_say("%4d  %6d  %9s  (%s)", p->pairs[i].bore, p->pairs[i].piston, clearance, numbered);
  }
  g_autofree char *wanted = ew_build_show(EW_KIND_LENGTH, units, p->wanted_m),
                  *worst = ew_build_show(EW_KIND_LENGTH, units, p->worst_m),
                  *numbered = ew_build_show(EW_KIND_LENGTH, units, p->as_numbered_m);
  ew_say("greatest deviation from %s: %s, as numbered %s", wanted, worst, numbered);
}

static gboolean run_pairing(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  struct pairing p;
  gboolean good = ew_build_call_open(call, TRUE, &b, error) && find_pairs(call, &b, &p, error);
  if (good && call->json)
    json_pairing(&p);
  else if (good)
    say_pairing(&p, call->units);
  ew_build_call_clear(&b);
  return good;
}
static const struct ew_option_spec pairing_options[] = {
    EW_BUILD_OPTIONS,
    {"clearance", "Q", "clearance wanted (else the middle of the target)", FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_pairing = {
    .name = "build pairing",
    .summary = "Which piston into which bore: the least deviation from the wanted clearance",
    .takes = "",
    .options = pairing_options,
    .run = run_pairing,
    .examples =
        "build pairing --book six.book\nbuild pairing --clearance \"0.080 mm\" --book six.book"};

static gboolean run_find(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) rows = book ? ew_part_find(book, ew_call_argument(call, 0), error) : NULL;
  if (!rows)
    return FALSE;
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_open_array(&json, "found");
  }
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_part_row *r = &g_array_index(rows, struct ew_part_row, i);
    if (!call->json) {
      ew_say("%s (%s): %s %s, batch %s, serial %s%s%s", r->engine, r->build, r->what,
             r->number ? r->number : "", r->batch ? r->batch : "-", r->serial ? r->serial : "-",
             r->position ? ", at " : "", r->position ? r->position : "");
      continue;
    }
    ew_json_open(&json, NULL);
    ew_json_text(&json, "engine", r->engine);
    ew_json_text(&json, "build", r->build);
    ew_json_text(&json, "part", r->what);
    ew_json_text(&json, "number", r->number);
    ew_json_text(&json, "batch", r->batch);
    ew_json_text(&json, "serial", r->serial);
    ew_json_text(&json, "position", r->position);
    ew_json_close(&json);
  }
  if (call->json) {
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (rows->len == 0)
    ew_say("no engine of this book carries '%s'", ew_call_argument(call, 0));
  return TRUE;
}
const struct ew_command ew_command_build_find = {
    .name = "build find",
    .summary = "Which engines carry a part or fluid of this batch, serial or number",
    .takes = "TEXT",
    .least = 1,
    .most = 1,
    .options = build_options,
    .run = run_find,
    .examples = "build find S7-0311"};

static void say_due(const struct ew_build_due *d) {
  g_autofree char *above = isnan(d->above_s)
                               ? g_strdup("")
                               : g_strdup_printf(", %.0f of %.0f s above %.0f rpm", d->above_s,
                                                 d->life_above_s, d->part->life_speed_rpm);
  g_autofree char *hours =
      isnan(d->life_s) ? g_strdup_printf("%.1f h", d->used_s / 3600)
                       : g_strdup_printf("%.1f of %.1f h", d->used_s / 3600, d->life_s / 3600);
  ew_say("%-20s %-12s %3.0f %%  %s%s%s", d->part->part, d->part->position ? d->part->position : "",
         100 * d->share, hours, above, d->share >= 1 ? "  DUE" : "");
}

static gboolean run_due(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  struct ew_ledger ledger = {0};
  gboolean good = ew_build_call_open(call, TRUE, &b, error) &&
                  ew_ledger_read(b.book, b.bench.engine_id, &ledger, error);
  if (!good) {
    ew_build_call_clear(&b);
    return FALSE;
  }
  int runs;
  double told = ew_build_told_s(b.bench.build, &runs);
  g_autoptr(GArray) list =
      ew_build_due_list(b.bench.build, ledger.running_s, ledger.above_s, EW_LEDGER_SPEEDS);
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_number(&json, "running_recorded_s", ledger.running_s);
    ew_json_number(&json, "running_told_s", told);
    ew_json_integer(&json, "runs_told", runs);
    ew_json_open_array(&json, "parts");
    for (guint i = 0; i < list->len; i++) {
      const struct ew_build_due *d = &g_array_index(list, struct ew_build_due, i);
      ew_json_open(&json, NULL);
      ew_json_text(&json, "part", d->part->part);
      ew_json_text(&json, "position", d->part->position);
      ew_json_number(&json, "used_s", d->used_s);
      ew_json_number(&json, "life_s", d->life_s);
      ew_json_number(&json, "above_s", d->above_s);
      ew_json_number(&json, "share", d->share);
      ew_json_boolean(&json, "due", d->share >= 1);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else {
    ew_say("%s: %.2f h from recordings, %.2f h and %d runs told", b.bench.engine_name,
           ledger.running_s / 3600, told / 3600, runs);
    for (guint i = 0; i < list->len; i++)
      say_due(&g_array_index(list, struct ew_build_due, i));
    ew_say("Lives are the shop's or the maker's figures; what a part looks like goes before them.");
  }
  ew_build_call_clear(&b);
  return TRUE;
}
const struct ew_command ew_command_build_due = {
    .name = "build due",
    .summary = "What is due for a freshen-up, part by part, from recordings and hours told",
    .takes = "",
    .options = build_options,
    .run = run_due,
    .examples = "build due\nbuild due --engine \"hill-climb six\" --json"};

static char *or_dash(enum ew_kind kind, enum ew_unit_system units, double value, int decimals) {
  return isnan(value) ? g_strdup("-") : ew_quantity_format(kind, units, value, decimals);
}

static void say_family(const struct ew_call *call, const GArray *rows) {
  ew_say("%-24s %14s %10s %12s %10s %12s %6s", "engine", "torque/litre", "power", "fuel", "oil",
         "turning", "pulls");
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_family_row *r = &g_array_index(rows, struct ew_family_row, i);
    g_autofree char *torque =
                        or_dash(EW_KIND_TORQUE, call->units, r->torque_per_volume_n_m_m3 / 1e3, 1),
                    *power = or_dash(EW_KIND_POWER, call->units, r->power_w, 1),
                    *fuel = or_dash(EW_KIND_SPECIFIC_FUEL, call->units, r->specific_fuel_kg_j,
                                    call->units == EW_UNITS_US ? 3 : 0),
                    *oil = or_dash(EW_KIND_PRESSURE_GAUGE, call->units, r->oil_pressure_pa, 1),
                    *turning = or_dash(EW_KIND_TORQUE, call->units, r->turning_torque_n_m, 1);
    ew_say("%-24s %14s %10s %12s %10s %12s %6d", r->engine, torque, power, fuel, oil, turning,
           r->pulls);
  }
}

static gboolean run_family(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  gboolean good = book && ew_desk_open(&desk, book, error);
  g_autoptr(GArray) rows = good ? ew_build_family(&desk, ew_call_argument(call, 0), error) : NULL;
  if (rows && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open_array(&json, "engines");
    for (guint i = 0; i < rows->len; i++) {
      const struct ew_family_row *r = &g_array_index(rows, struct ew_family_row, i);
      ew_json_open(&json, NULL);
      ew_json_text(&json, "engine", r->engine);
      ew_json_text(&json, "build", r->build);
      ew_json_number(&json, "torque_per_volume_n_m_m3", r->torque_per_volume_n_m_m3);
      ew_json_number(&json, "power_w", r->power_w);
      ew_json_number(&json, "specific_fuel_kg_j", r->specific_fuel_kg_j);
      ew_json_number(&json, "oil_pressure_pa", r->oil_pressure_pa);
      ew_json_number(&json, "turning_torque_n_m", r->turning_torque_n_m);
      ew_json_integer(&json, "pulls", r->pulls);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (rows)
    say_family(call, rows);
  ew_desk_clear(&desk);
  return rows != NULL;
}
const struct ew_command ew_command_build_family = {.name = "build family",
                                                   .summary = "Engines of one tag side by side",
                                                   .takes = "TAG",
                                                   .least = 1,
                                                   .most = 1,
                                                   .options = build_options,
                                                   .run = run_family,
                                                   .examples = "build family \"hill-climb sixes\""};
