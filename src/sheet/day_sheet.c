/* Draws the day: a table of pulls, notes, answers. Cells are drawn as they were handed over. */
#include "sheet/day_sheet.h"
#include "base/language.h"

gboolean ew_day_sheet_draw(const struct ew_day_paper *paper, const char *path,
                           enum ew_format format, enum ew_paper size, GError **error) {
  const struct ew_flow_column pulls[EW_DAY_PULL_CELLS] = {
      {EW_TEXT("pull"), 0.95, EW_RIGHT},
      {EW_TEXT("time"), 0.8, EW_LEFT},
      {EW_TEXT("purpose"), 1, EW_LEFT},
      {EW_TEXT("to, rpm"), 1.15, EW_RIGHT},
      {paper->torque_head, 1.3, EW_RIGHT},
      {EW_TEXT("what was changed before it, or why it is set aside"), 5, EW_OWN}};
  static const struct ew_flow_column notes[EW_DAY_NOTE_CELLS] = {
      {EW_TEXT("time"), 0.8, EW_LEFT},
      {EW_TEXT("note or mark"), 6, EW_OWN},
      {EW_TEXT("who"), 1.4, EW_OWN}};
  struct ew_flow flow = {0};
  ew_flow_open(&flow, &paper->head, path, format, size);
  ew_flow_heading(&flow, "Pulls");
  ew_flow_table(&flow, pulls, EW_DAY_PULL_CELLS, paper->pulls, 8, 0);
  ew_flow_text(
      &flow, 7, FALSE,
      "Mean corrected torque of each pull over its band of use. How certain it is, and whether one "
      "pull was better than another, is in the report and in the answers.");
  if (paper->notes->len) {
    ew_flow_heading(&flow, "Notes and marks");
    ew_flow_table(&flow, notes, EW_DAY_NOTE_CELLS, paper->notes, 8, 0);
  }
  if (paper->answers->len)
    ew_flow_heading(&flow, "Answers of the day");
  for (guint i = 0; i + 1 < paper->answers->len; i += EW_DAY_ANSWER_CELLS) {
    const char *behind = paper->answers->pdata[i + 1];
    ew_flow_text(&flow, 8, FALSE, paper->answers->pdata[i]);
    if (*behind)
      ew_flow_text(&flow, 6.5, FALSE, behind);
  }
  return ew_flow_close(&flow, error);
}
