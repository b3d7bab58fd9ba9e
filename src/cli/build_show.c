/* build show: what a build record holds, measurements against their targets first. */
#include "cli/build_call.h"
#include "base/words.h"
#include "build/fit.h"
#include <math.h>

static void write_line(const void *row, struct ew_json *json) {
  const struct ew_build_line *l = row;
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

static void write_attachment(const void *row, struct ew_json *json) {
  const struct ew_attachment_row *r = row;
  ew_json_integer(json, "id", r->id);
  ew_json_text(json, "name", r->name);
  ew_json_text(json, "media", r->media);
  ew_json_integer(json, "bytes", r->bytes);
  ew_json_text(json, "sha256", r->sha256);
  ew_json_text(json, "place", r->place);
  ew_json_text(json, "note", r->note);
}

static GArray *attachments_of(const struct ew_build_call *b) {
  const struct ew_owner owner = {EW_OWNER_BUILD, b->bench.build->id, NULL};
  return ew_attachment_list(b->book, &owner, FALSE, NULL);
}

static void say_lines(const GArray *lines, enum ew_unit_system units) {
  const char *name = NULL, *stage = NULL;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    if (l->name != name || g_strcmp0(l->stage, stage) != 0)
      ew_say(l->stage ? EW_TEXT("\n%s, %s") : EW_TEXT("\n%s"), l->name, l->stage);
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
    ew_say(l->from ? EW_TEXT("  %-18s %12s ± %-10s %s to %s  %s")
                   : EW_TEXT("  %-18s %12s ± %-10s %s%s  %s"),
           l->position, mean, expanded, low, high, ew_tr(ew_fit_word(l->verdict)));
  }
}

static void append(GString *text, const char *more) {
  if (more)
    g_string_append_printf(text, "%s%s", text->len ? ", " : "", more);
}

static char *shown(enum ew_kind kind, enum ew_unit_system units, double value) {
  return isnan(value) ? NULL : ew_quantity_format(kind, units, value, 0);
}

static void say_agreed_one(const struct ew_build_agreed *a, enum ew_unit_system units) {
  g_autofree char *power = shown(EW_KIND_POWER, units, a->power_w),
                  *at = shown(EW_KIND_ROTATIONAL_SPEED, units, a->power_speed_rpm),
                  *power_at = power && at ? ew_words("%s at %s", power, at) : NULL,
                  *torque = shown(EW_KIND_TORQUE, units, a->torque_n_m),
                  *limit = shown(EW_KIND_ROTATIONAL_SPEED, units, a->limit_rpm),
                  *up_to = limit ? ew_words("up to %s", limit) : NULL;
  GString *text = g_string_new(NULL);
  append(text, a->what);
  append(text, power_at ? power_at : power);
  append(text, torque);
  append(text, up_to);
  append(text, a->fuel);
  ew_say("  %.10s  %s: %s", a->mark.at,
         ew_tr(a->order ? EW_TEXT("change order") : EW_TEXT("target")), text->str);
  g_string_free(text, TRUE);
}

/* In order: each figure counts as the last that gives it says. */
static void say_agreed(const struct ew_build *build, enum ew_unit_system units) {
  const struct ew_build_agreed *one;
  if (build->records[EW_BUILD_AGREED]->len)
    ew_say("\nagreed");
  EW_BUILD_EACH(build, AGREED, struct ew_build_agreed, one, i)
  say_agreed_one(one, units);
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
  ew_say("  %.10s  %s (%.1f h, runs: %d)", after->mark.at, after->what, after->running_s / 3600,
         after->runs);
  g_autoptr(GArray) files = attachments_of(b);
  if (files->len)
    ew_say("\nattachments");
  for (guint i = 0; i < files->len; i++) {
    const struct ew_attachment_row *r = &g_array_index(files, struct ew_attachment_row, i);
    ew_say("  %lld  %s, %.0f kB, SHA-256 %.16s...  %s", (long long)r->id, r->name,
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
    g_autoptr(GArray) files = attachments_of(&b);
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b.bench.engine_name);
    ew_json_integer(&json, "build_id", b.bench.build->id);
    ew_json_rows(&json, "measurements", lines, write_line);
    json_records(&json, b.bench.build);
    json_steps(&json, b.bench.build);
    ew_json_rows(&json, "attachments", files, write_attachment);
    ew_answer_end(&json);
  } else {
    const char *build = facts->build ? facts->build : ew_tr("build");
    ew_say(facts->family ? EW_TEXT("%s: %s, of the family %s") : EW_TEXT("%s: %s"),
           b.bench.engine_name, build, facts->family);
    say_agreed(b.bench.build, call->units);
    say_lines(lines, call->units);
    say_rest(&b);
  }
  ew_build_call_clear(&b);
  return TRUE;
}
const struct ew_command ew_command_build_show = {
    .name = "build show",
    .summary = EW_TEXT("A build: measurements against their targets, parts, contacts, attachments"),
    .takes = "",
    .options = ew_build_options,
    .run = run_show,
    .examples = "build show\nbuild show --engine \"hill-climb six\" --units us --json"};
