/* sheet day, build, lash, degree, care, dispatch, valves. */
#include "cli/command.h"
#include "desk/day_sheet.h"
#include <string.h>

static const struct ew_option_spec sheet_options[] = {
    {"book", "FILE", "the shop's book", FALSE},
    {"engine", "NAME", "which engine (else the last added)", FALSE},
    {"out", "FILE", "sheet.pdf, .svg or .png (else NAME.pdf)", FALSE},
    {"title", "TEXT", "title of the sheet", FALSE},
    {"paper", "a4|letter", "paper", FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean settle(const struct ew_call *call, const char *path,
                       struct ew_build_sheet_options *options, GError **error) {
  const char *paper = ew_call_option(call, "paper");
  if (!ew_format_of(path, FALSE, &options->format))
    return ew_refuse(error, "--out '%s': the name ends with .pdf, .svg or .png", path);
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "--paper '%s' is neither a4 nor letter", paper);
  options->paper = !paper ? -1 : strcmp(paper, "letter") == 0 ? EW_PAPER_LETTER : EW_PAPER_A4;
  options->units = ew_call_has(call, "units") ? (int)call->units : -1;
  options->engine = ew_call_option(call, "engine");
  options->title = ew_call_option(call, "title");
  options->path = path;
  return TRUE;
}

static gboolean run_sheet(const struct ew_call *call, enum ew_build_sheet_kind kind,
                          GError **error) {
  g_autofree char *usual = g_strdup_printf("%s.pdf", strchr(call->command->name, ' ') + 1);
  const char *path = ew_call_option(call, "out") ? ew_call_option(call, "out") : usual;
  struct ew_build_sheet_options options = {.kind = kind};
  if (!settle(call, path, &options, error))
    return FALSE;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  gboolean good = ew_make_build_sheet(&desk, &options, error);
  ew_desk_clear(&desk);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "sheet", path);
    ew_answer_end(&json);
  } else if (good)
    ew_say("%s", path);
  return good;
}

#define X(id, title, about)                                                                        \
  static gboolean run_##id(const struct ew_call *call, GError **error) {                           \
    return run_sheet(call, EW_SHEET_##id, error);                                                  \
  }                                                                                                \
  const struct ew_command ew_command_sheet_##id = {.name = "sheet " #id,                           \
                                                   .summary = about,                               \
                                                   .takes = "",                                    \
                                                   .options = sheet_options,                       \
                                                   .run = run_##id,                                \
                                                   .examples = "sheet " #id " --out " #id ".pdf"};
EW_BUILD_SHEETS(X)
#undef X

static gboolean run_day(const struct ew_call *call, GError **error) {
  const char *path = ew_call_option(call, "out") ? ew_call_option(call, "out") : "day.pdf";
  struct ew_build_sheet_options common = {0};
  if (!settle(call, path, &common, error) || !ew_call_place(path, error))
    return FALSE;
  struct ew_day_sheet_options options = {.day = ew_call_option(call, "day"),
                                         .title = common.title,
                                         .path = path,
                                         .format = common.format,
                                         .paper = common.paper,
                                         .units = common.units};
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  gboolean good = ew_make_day_sheet(&desk, &options, error);
  ew_desk_clear(&desk);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "sheet", path);
    ew_answer_end(&json);
  } else if (good)
    ew_say("%s", path);
  return good;
}
static const struct ew_option_spec day_options[] = {
    {"book", "FILE", "the shop's book", FALSE},
    {"day", "DATE", "2026-11-25 (else the day of the last pull)", FALSE},
    {"out", "FILE", "sheet.pdf, .svg or .png (else day.pdf)", FALSE},
    {"title", "TEXT", "title of the sheet", FALSE},
    {"paper", "a4|letter", "paper", FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_sheet_day = {
    .name = "sheet day",
    .summary = "A test day on paper: its pulls in order, what was changed, notes, marks, answers",
    .takes = "",
    .options = day_options,
    .run = run_day,
    .examples = "sheet day --out day.pdf"};
