/* A table of advice: what a refusal says for a terminal, and where the same is done on the page. Longer pieces stand
 * first; what isn't in the table is left as it is. */
#include "serve/page_words.h"
#include <glib.h>

/* advice of the command line, and what is said instead; the longer ones first */
#define ADVICE(X)                                                                                  \
  X("'enginewright look' shows how the file was understood",                                       \
    "look at its first lines: a row of names, one of units, then rows of figures")                 \
  X("run 'book verify'", "Shop, \"Is it whole?\", tells what is damaged")                          \
  X("add one with 'enginewright pull add FILE'", "add a recording to this page")                   \
  X("'enginewright pull list' shows them", "Pulls lists them")                                     \
  X("'enginewright book attached' shows them", "they stand with their pull, day or build")         \
  X("'enginewright build show' lists them", "Build lists them")                                    \
  X("'build check --before load' lists them", "Build lists them")                                  \
  X("'cell alarms --trips' lists them", "Live tells them")                                         \
  X("begin with 'enginewright build start' or 'build load'", "begin it in Build")                  \
  X("'enginewright engine add FILE' adds one", "Engine adds one")                                  \
  X("'enginewright engine add'", "Engine adds one")                                                \
  X("'engine add' first", "add one in Engine first")                                               \
  X("'enginewright book new' makes one", "start the program with another one")                     \
  X("give --set \"spark=30 deg\" when adding it", "state it when the recording is added")          \
  X("give --history or two like pulls at one setting", "take two like pulls at one setting along") \
  X("name its unit in a channel map (--map)", "name its unit in a channel map")                    \
  X("'arm' lets pulls be armed again", "\"Arm\" on Live lets pulls be armed again")                \
  X("until 'arm'", "until \"Arm\" is pressed on Live")                                             \
  X("(--limit, --rate, the cell's plate)",                                                         \
    "(the engine's agreed limit, the rate of sweeps, the cell's plate)")                           \
  X("start with --lan", "the program has to be started for the network")

static const struct {
  const char *command, *page;
} advice[] = {
#define X(command, page) {command, page},
    ADVICE(X)
#undef X
};

static char *without(const char *text, const char *pattern, const char *by) {
  g_autoptr(GRegex) regex = g_regex_new(pattern, G_REGEX_OPTIMIZE, 0, NULL);
  return g_regex_replace(regex, text, -1, 0, by, 0, NULL);
}

char *ew_page_words(const char *message) {
  GString *text = g_string_new(message);
  for (gsize i = 0; i < G_N_ELEMENTS(advice); i++)
    g_string_replace(text, advice[i].command, advice[i].page, 0);
  /* a command that is none of those: its clause is left out; an option: its name stays */
  g_autofree char *whole = g_string_free(text, FALSE);
  g_autofree char *clauses =
      without(whole, "[ ]*[(;:,]?[ ]*[^;:,(]*'enginewright [^']*'[^;,)]*\\)?", "");
  return without(clauses, "(?<![\\w-])--([a-z][a-z-]+)", "\\1");
}
