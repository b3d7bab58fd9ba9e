/* What a person can do about a refusal, worded once for each place where the person may be: at a command line, or at the
 * page. The rooms below say what is wrong and name the remedy by its key; the interface that shows the refusal adds its
 * own wording (ew_error_says). So no interface reads or rewrites another's sentence. */
#pragma once

/* id, key, at the command line, at the page */
/* clang-format off */
#define EW_REMEDIES(X)                                                                             \
  X(LOOK, "look",                                                                                  \
    EW_TEXT("'enginewright look' shows how the file was understood"),                              \
    EW_TEXT("check its first lines: a row of names, one of units, then rows of figures"))          \
  X(NAME_UNIT, "name-unit",                                                                        \
    EW_TEXT("or name its unit in a channel map (--map)"),                                          \
    EW_TEXT("or name its unit in a channel map"))                                                  \
  X(VERIFY, "verify",                                                                              \
    EW_TEXT("'enginewright book verify' lists what is wrong; restore the book from a backup"),     \
    EW_TEXT("\"Is it whole?\" on the Shop screen lists what is wrong; restore the book from a backup")) \
  X(NEW_BOOK, "new-book",                                                                          \
    EW_TEXT("'enginewright book new' makes one"),                                                  \
    EW_TEXT("start the program with another book"))                                                \
  X(OTHER_BOOK, "other-book",                                                                      \
    EW_TEXT("choose another with --book"),                                                         \
    EW_TEXT("start the program with another book"))                                                \
  X(OPEN_BOOK, "open-book",                                                                        \
    EW_TEXT("give --book, or a file"),                                                             \
    EW_TEXT("start the program with a book"))                                                      \
  X(ADD_PULL, "add-pull",                                                                          \
    EW_TEXT("'enginewright pull add FILE' adds one"),                                              \
    EW_TEXT("add a recording on the Pulls screen"))                                                \
  X(LIST_PULLS, "list-pulls",                                                                      \
    EW_TEXT("'enginewright pull list' lists the pulls"),                                           \
    EW_TEXT("the Pulls screen lists them"))                                                        \
  X(LIST_TRIPS, "list-trips",                                                                      \
    EW_TEXT("'enginewright cell alarms --trips' lists the trips"),                                 \
    EW_TEXT("the Live screen lists them"))                                                         \
  X(LIST_ATTACHED, "list-attached",                                                                \
    EW_TEXT("'enginewright book attached' lists the attachments"),                                 \
    EW_TEXT("attachments are listed with their pull, day or build"))                               \
  X(LIST_BUILD, "list-build",                                                                      \
    EW_TEXT("'enginewright build show' lists what it holds"),                                      \
    EW_TEXT("the Build screen lists what it holds"))                                               \
  X(ADD_ENGINE, "add-engine",                                                                      \
    EW_TEXT("'enginewright engine add FILE' adds one"),                                            \
    EW_TEXT("add one on the Engine screen"))                                                       \
  X(BEGIN_BUILD, "begin-build",                                                                    \
    EW_TEXT("begin with 'enginewright build start' or 'enginewright build load'"),                 \
    EW_TEXT("begin it on the Build screen"))                                                       \
  X(STATE_SETTING, "state-setting",                                                                \
    EW_TEXT("give it when adding the pull, for example --set \"spark=30 deg\""),                   \
    EW_TEXT("state it when the recording is added"))                                               \
  X(MORE_PULLS, "more-pulls",                                                                      \
    EW_TEXT("give --history, or two like pulls at one setting"),                                   \
    EW_TEXT("include two like pulls at one setting"))                                              \
  X(FIT_AGAIN, "fit-again",                                                                        \
    EW_TEXT("fit again with 'enginewright engine fit'"),                                           \
    EW_TEXT("fit again on the Predict screen"))                                                    \
  X(SERVE_NETWORK, "serve-network",                                                                \
    EW_TEXT("start with --lan"),                                                                   \
    EW_TEXT("the program has to be started for the network"))                                      \
  X(SAY_SURE, "say-sure",                                                                          \
    EW_TEXT("if it is meant, confirm it with --sure ('sure: yes' in a file)"),                     \
    EW_TEXT("if it is meant, confirm it"))
/* clang-format on */

enum ew_remedy {
  EW_REMEDY_NONE,
#define X(id, key, command_line, page) EW_REMEDY_##id,
  EW_REMEDIES(X)
#undef X
      EW_REMEDIES_COUNT
};

/* Where the person is. */
enum ew_place { EW_AT_COMMAND_LINE, EW_AT_PAGE };

/* "list-pulls"; NULL for none. */
const char *ew_remedy_key(enum ew_remedy remedy);
/* In this thread's language; NULL for none. */
const char *ew_remedy_at(enum ew_remedy remedy, enum ew_place place);
