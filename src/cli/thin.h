/* The rule for idle samples, said and asked for; used by 'book set', 'book info' and 'book thin'. */
#pragma once
#include "book/thinned.h"
#include "cli/command.h"

#define EW_IDLE_OPTIONS                                                                            \
  {"idle-whole", EW_TEXT("TIME|all"),                                                              \
   EW_TEXT("idle samples of live recordings stay as measured for so long after the recording "     \
           "ended, such as \"90 days\"; then 'book thin' may thin them (all: for ever)"),          \
   FALSE},                                                                                         \
      {"idle-rate", EW_TEXT("RATE"),                                                               \
       EW_TEXT("then one row stands for the others at this rate, with mean, least and greatest "   \
               "(1 Hz)"),                                                                          \
       FALSE},                                                                                     \
  {                                                                                                \
    "idle-around", EW_TEXT("TIME"),                                                                \
        EW_TEXT(                                                                                   \
            "so much stays whole on both sides of pulls, trips, marks, notes and photos (60 s)"),  \
        FALSE                                                                                      \
  }

/* The setting that these options make, to be freed; *given FALSE: none of them was given. FALSE with *error. */
gboolean ew_idle_rule_asked(const struct ew_call *call, struct ew_book *book, char **setting,
                            gboolean *given, GError **error);
void ew_idle_rule_say(const struct ew_thin_rule *rule, gboolean stands);
/* The member "thinning": null where no rule stands. */
void ew_idle_rule_json(const struct ew_thin_rule *rule, gboolean stands, struct ew_json *json);
/* Of `book info`: what was thinned until now. */
gboolean ew_idle_info(const struct ew_call *call, struct ew_book *book, struct ew_json *json,
                      GError **error);
/* Of `pull explain`: how near to the pull its live recording is thinned; nothing where it is not. json NULL: said. */
gboolean ew_idle_around(struct ew_book *book, gint64 recording_id, struct ew_json *json,
                        GError **error);
