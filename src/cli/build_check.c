/* build check, due: what is out, open, or has run its life. */
#include "cli/build_call.h"
#include "base/language.h"
#include "base/words.h"
#include <math.h>

static gboolean gate_of(const struct ew_call *call, enum ew_build_gate *gate, GError **error) {
  const char *text = ew_call_option(call, "before");
  *gate = EW_GATE_NONE;
  for (int k = 1; text && ew_build_gate_names[k]; k++)
    if (g_ascii_strcasecmp(ew_build_gate_names[k], text) == 0)
      *gate = k;
  return !text || *gate != EW_GATE_NONE ||
         ew_refuse(error, "--before '%s' is not one of first fire, load, dispatch", text);
}

static gboolean result_of(struct ew_build_call *b, struct ew_build_result *result, GError **error) {
  struct ew_desk desk = {0};
  gboolean good = ew_desk_open(&desk, b->book, error) &&
                  ew_build_result_of(&desk, b->bench.engine_id, result, error);
  ew_desk_clear(&desk);
  return good;
}

static void say_check(const struct ew_build_call *b, const GPtrArray *findings,
                      const GPtrArray *open, enum ew_unit_system units) {
  ew_say("%s: findings: %u", b->bench.engine_name, findings->len);
  for (guint i = 0; i < findings->len; i++) {
    g_autofree char *says = ew_message_text(findings->pdata[i], units);
    ew_say("  %-8s %s", ew_tr(ew_severity_words[ew_message_severity(findings->pdata[i])]), says);
  }
  if (open && open->len)
    ew_say("\nnot done yet");
  for (guint i = 0; open && i < open->len; i++) {
    g_autofree char *says = ew_message_text(open->pdata[i], units);
    ew_say("  %s", says);
  }
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
  g_autoptr(GPtrArray) findings = ew_build_check(b.bench.build, &b.bench.engine, &result);
  g_autoptr(GPtrArray) open = gate ? ew_build_open_steps(b.bench.build, gate) : NULL;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b.bench.engine_name);
    ew_messages_write_json(findings, "findings", call->units, &json);
    if (open)
      ew_messages_write_json(open, "open", call->units, &json);
    ew_answer_end(&json);
  } else
    say_check(&b, findings, open, call->units);
  gboolean blocked = open && open->len;
  if (blocked)
    ew_answer_no(error, "steps open before %s: %u", ew_tr(ew_build_gate_names[gate]), open->len);
  ew_build_call_clear(&b);
  return !blocked;
}
static const struct ew_option_spec check_options[] = {
    EW_BUILD_OPTIONS,
    {"before", EW_TEXT("GATE"),
     EW_TEXT("also list what must be done before: first fire, load, dispatch"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_check = {
    .name = "build check",
    .summary = EW_TEXT(
        "What is out of tolerance, missing or contradictory in a build, and what is not done yet"),
    .takes = "",
    .options = check_options,
    .run = run_check,
    .examples =
        "build check\nbuild check --before \"first fire\"\nbuild check --before load --json",
    .more = EW_TEXT("Findings do not change the exit code. With --before, open steps make it 1. "
                    "The program proves nothing about an engine: it shows what was written down.")};

static void say_due(const struct ew_build_due *d) {
  g_autofree char *above = isnan(d->above_s)
                               ? g_strdup("")
                               : ew_words(", %.0f of %.0f s above %#.0f rpm", d->above_s,
                                          d->life_above_s, d->part->life_speed_rpm);
  g_autofree char *hours = isnan(d->life_s)
                               ? ew_words("%.1f h", d->used_s / 3600)
                               : ew_words("%.1f of %.1f h", d->used_s / 3600, d->life_s / 3600);
  ew_say(d->share >= 1 ? EW_TEXT("%-20s %-12s %3.0f %%  %s%s  DUE")
                       : EW_TEXT("%-20s %-12s %3.0f %%  %s%s"),
         d->part->part, d->part->position ? d->part->position : "", 100 * d->share, hours, above);
}

static void write_due(const void *row, struct ew_json *json) {
  const struct ew_build_due *d = row;
  ew_json_text(json, "part", d->part->part);
  ew_json_text(json, "position", d->part->position);
  ew_json_number(json, "used_s", d->used_s);
  ew_json_number(json, "life_s", d->life_s);
  ew_json_number(json, "above_s", d->above_s);
  ew_json_number(json, "share", d->share);
  ew_json_boolean(json, "due", d->share >= 1);
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
    ew_json_rows(&json, "parts", list, write_due);
    ew_answer_end(&json);
  } else {
    ew_say("%s: %.2f h recorded; reported: %.2f h, runs: %d", b.bench.engine_name,
           ledger.running_s / 3600, told / 3600, runs);
    for (guint i = 0; i < list->len; i++)
      say_due(&g_array_index(list, struct ew_build_due, i));
    ew_say("Lives are the shop's or the maker's figures; what a part looks like comes first.");
  }
  ew_build_call_clear(&b);
  return TRUE;
}
const struct ew_command ew_command_build_due = {
    .name = "build due",
    .summary =
        EW_TEXT("What is due for a freshen-up, part by part, from recorded and reported hours"),
    .takes = "",
    .options = ew_build_options,
    .run = run_due,
    .examples = "build due\nbuild due --engine \"hill-climb six\" --json"};
