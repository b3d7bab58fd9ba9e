/* This machine's outputs: shown, confirmed with what they will do, forgotten. */
#include "cell/output_machine.h"
#include "cli/command.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec outputs_options[] = {
    {"outputs", EW_TEXT("FILE"), EW_TEXT("these outputs: shown, and kept only with --confirm"),
     FALSE},
    {"confirm", NULL,
     EW_TEXT("with --outputs: they may drive what is shown here, from this machine"), FALSE},
    {"forget", NULL, EW_TEXT("drive only the usual lines from now on"), FALSE},
    {"template", NULL, EW_TEXT("print the usual lines, for editing"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_outputs(const struct ew_call *call, const struct ew_alarm_table *table,
                        const char *from, gboolean in_force) {
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_text(&json, "from", from);
    ew_json_boolean(&json, "in_force", in_force);
    ew_json_open_array(&json, "outputs");
  } else
    ew_say("from %s; a shut-down asks for these in turn; it is not a safety device", from);
  for (guint i = 0; i < table->outputs->len; i++) {
    const struct ew_output_spec *one = &g_array_index(table->outputs, struct ew_output_spec, i);
    g_autofree char *does = ew_output_does(one);
    if (call->json) {
      ew_json_open(&json, NULL);
      ew_fields_write_json(&ew_output_fields, one, &json);
      ew_json_text(&json, "does", does);
      ew_json_close(&json);
    } else
      ew_say("%-24s %s", ew_tr(one->name), does);
  }
  if (call->json) {
    ew_json_close_array(&json);
    ew_json_text(&json, "heartbeat", table->heartbeat_line);
    ew_json_number(&json, "heartbeat_s", table->heartbeat_s);
    ew_answer_end(&json);
  } else if (table->heartbeat_line)
    ew_say("%-24s every %.2g s: sends the line '%s' to each source named with control=yes",
           "heartbeat", table->heartbeat_s, table->heartbeat_line);
}

static gboolean show_given(const struct ew_call *call, const char *path, GError **error) {
  g_autofree char *text = NULL, *kept = ew_outputs_path();
  g_autoptr(GError) problem = NULL;
  if (!g_file_get_contents(path, &text, NULL, &problem))
    return ew_refuse(error, "--outputs: %s", problem->message);
  g_autoptr(ew_alarm_table) table = ew_outputs_parse(text, path, error);
  gboolean confirm = ew_call_has(call, "confirm");
  if (!table || (confirm && !ew_outputs_keep(text, error)))
    return FALSE;
  say_outputs(call, table, confirm ? kept : path, confirm);
  if (confirm)
    return TRUE;
  return ew_answer_no(error,
                      "not kept: if this is what they may do from this machine, add --confirm");
}

static gboolean run_outputs(const struct ew_call *call, GError **error) {
  const char *path = ew_call_option(call, "outputs");
  g_autofree char *from = NULL;
  if (ew_call_has(call, "template")) {
    fputs(ew_outputs_usual, stdout);
    return TRUE;
  }
  if (ew_call_has(call, "confirm") && !path)
    return ew_refuse(error, "--confirm needs --outputs FILE: what is to be confirmed?");
  if (path)
    return show_given(call, path, error);
  if (ew_call_has(call, "forget") && !ew_outputs_forget(error))
    return FALSE;
  g_autoptr(ew_alarm_table) table = ew_outputs_of_machine(&from, error);
  if (!table)
    return FALSE;
  say_outputs(call, table, from, TRUE);
  return TRUE;
}
const struct ew_command ew_command_cell_outputs = {
    .name = "cell outputs",
    .summary = EW_TEXT("What a shut-down drives from this machine: show, confirm, forget"),
    .takes = "",
    .options = outputs_options,
    .run = run_outputs,
    .examples = "cell outputs\ncell outputs --template > outputs.yaml\n"
                "cell outputs --outputs outputs.yaml --confirm",
    .more = EW_TEXT(
        "Outputs belong to this machine and never come with a book; they are kept in "
        "$XDG_CONFIG_HOME/enginewright/outputs.yaml, readable and writable by you alone. Practice "
        "and replay drive none of them. They are requests, not a safety device: a hard-wired stop, "
        "an overspeed trip, and gas and fire systems of their own remain necessary.")};
