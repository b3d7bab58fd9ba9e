/* What the build commands share: the engine and build a call means, and records from its words. */
#pragma once
#include "base/node_change.h"
#include "cli/command.h"
#include "desk/build.h"

#define EW_BUILD_OPTIONS                                                                           \
  {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {                                  \
    "engine", EW_TEXT("NAME"), EW_TEXT("which engine (default: the one in the cell)"), FALSE       \
  }
extern const struct ew_option_spec ew_build_options[]; /* these two alone */
#define EW_MARK_OPTIONS                                                                            \
  {"at", EW_TEXT("DATE"), EW_TEXT("when (default: now)"), FALSE},                                  \
      {"who", EW_TEXT("NAME"), EW_TEXT("who (default: the login name)"), FALSE}, {                 \
    "note", EW_TEXT("TEXT"), EW_TEXT("remark"), FALSE                                              \
  }

struct ew_build_call {
  struct ew_book *book;
  struct ew_bench_build bench;
};
/* Opens book and build; clear it whatever came. */
gboolean ew_build_call_open(const struct ew_call *call, gboolean needed, struct ew_build_call *b,
                            GError **error);
void ew_build_call_clear(struct ew_build_call *b);

/* A map of the call's options that are fields of that kind ("head-temperature" is
 * head_temperature); `at` is now where it is not given. */
struct ew_node *ew_build_call_map(const struct ew_call *call, enum ew_build_kind kind);
/* Reads, keeps and answers for one record of the build; *map is freed. */
gboolean ew_build_call_keep(const struct ew_call *call, enum ew_build_kind kind,
                            struct ew_node *map, GError **error);
