/* Every command, in the order in which help lists them; one a line. */
#pragma once
/* clang-format off */
#define EW_COMMANDS(X) \
  X(demo) \
  X(look) \
  X(pull_add) \
  X(pull_list) \
  X(pull_show) \
  X(pull_curve) \
  X(pull_explain) \
  X(pull_discard) \
  X(pull_export) \
  X(compare) \
  X(judge_sweep) \
  X(judge_step_up) \
  X(air_factor) \
  X(air_standards) \
  X(air_site) \
  X(engine_new) \
  X(engine_add) \
  X(engine_show) \
  X(engine_check) \
  X(cell_repeatability) \
  X(cell_record) \
  X(cell_simulate) \
  X(cell_practice) \
  X(cell_calibrate) \
  X(cell_zero) \
  X(cell_check_weight) \
  X(cell_calibrations) \
  X(sheet_report) \
  X(book_new) \
  X(book_set) \
  X(book_info) \
  X(book_verify) \
  X(book_backup) \
  X(book_export) \
  X(serve) \
  X(help) \
  X(completion) \
  X(man)
/* clang-format on */
