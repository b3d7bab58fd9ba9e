/* help, completion and the man page, all from the commands' own descriptions. */
#include "cli/command.h"
#include <stdio.h>
#include <string.h>

#define WIDTH 118

static void list_commands(void) {
  puts("Enginewright: proves custom piston engines on an engine dyno.\n"
       "Every number carries its unit, conditions, uncertainty and origin; every \"that was "
       "better\" is tested.\n");
  for (int i = 0; ew_commands[i]; i++)
    printf("  %-20s %s\n", ew_commands[i]->name, ew_commands[i]->summary);
  puts("\n'enginewright help COMMAND' shows options and examples. Begin with 'enginewright demo',\n"
       "or with your own file: 'enginewright look FILE'.");
}

/* Lines as they were written; what is longer than a page is wide goes on in the next. */
static void print_lines(const char *text) {
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (int i = 0; lines[i]; i++) {
    char *line = lines[i];
    while (strlen(line) > WIDTH) {
      char *space = line + WIDTH;
      while (space > line && *space != ' ')
        space--;
      if (space == line)
        break;
      *space = 0;
      puts(line);
      line = space + 1;
    }
    puts(line);
  }
}

static void help_one(const struct ew_command *c) {
  printf("enginewright %s%s%s\n\n%s.\n", c->name, *c->takes ? " " : "", c->takes, c->summary);
  if (c->more)
    puts("");
  if (c->more)
    print_lines(c->more);
  if (c->options && c->options->name)
    puts("\nOptions:");
  for (const struct ew_option_spec *o = c->options; o && o->name; o++) {
    g_autofree char *left = g_strdup_printf("--%s%s%s%s", o->name, o->value ? " " : "",
                                            o->value ? o->value : "", o->many ? "..." : "");
    printf("  %-26s %s\n", left, o->help);
  }
  if (!c->prints_text)
    puts("  --json                     answer in JSON");
  puts("  --units si|us              units of the text that is printed");
  puts("\nExamples:");
  g_auto(GStrv) lines = g_strsplit(c->examples, "\n", -1);
  for (int i = 0; lines[i]; i++)
    printf("  enginewright %s\n", lines[i]);
}

static gboolean find_and_help(const char *name, GError **error) {
  gboolean found = FALSE;
  for (int i = 0; ew_commands[i]; i++) {
    gsize length = strlen(name);
    gboolean noun =
        strncmp(ew_commands[i]->name, name, length) == 0 && ew_commands[i]->name[length] == ' ';
    if (strcmp(ew_commands[i]->name, name) == 0 || noun) {
      if (found)
        puts("");
      help_one(ew_commands[i]);
      found = TRUE;
    }
  }
  return found ||
         ew_refuse(error, "help: '%s' is no command; 'enginewright help' lists them", name);
}

static gboolean run_help(const struct ew_call *call, GError **error) {
  if (call->arguments->len == 0) {
    list_commands();
    return TRUE;
  }
  g_autofree char *name =
      call->arguments->len > 1
          ? g_strdup_printf("%s %s", ew_call_argument(call, 0), ew_call_argument(call, 1))
          : g_strdup(ew_call_argument(call, 0));
  return find_and_help(name, error);
}
const struct ew_command ew_command_help = {.name = "help",
                                           .prints_text = TRUE,
                                           .summary = "What a command does, with examples",
                                           .takes = "[COMMAND]",
                                           .most = 2,
                                           .run = run_help,
                                           .examples = "help\nhelp pull add"};

static void complete_command(const struct ew_command *c) {
  printf("    '%s') words=\"%s--units --help", c->name, c->prints_text ? "" : "--json ");
  for (const struct ew_option_spec *o = c->options; o && o->name; o++)
    printf(" --%s", o->name);
  puts("\" ;;");
}

static gboolean run_completion(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  puts(
      "# bash completion for enginewright: eval \"$(enginewright completion)\"\n_enginewright() {\n"
      "  local current=${COMP_WORDS[COMP_CWORD]} words='' first=${COMP_WORDS[1]} "
      "both=\"${COMP_WORDS[1]} ${COMP_WORDS[2]}\"");
  g_autoptr(GHashTable) nouns = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  printf("  if [ \"$COMP_CWORD\" -eq 1 ]; then words='");
  for (int i = 0; ew_commands[i]; i++) {
    char *noun = g_strndup(ew_commands[i]->name, strcspn(ew_commands[i]->name, " "));
    if (g_hash_table_add(nouns, noun))
      printf("%s ", noun);
  }
  puts("'\n  else case \"$both\" in");
  for (int i = 0; ew_commands[i]; i++)
    if (strchr(ew_commands[i]->name, ' '))
      complete_command(ew_commands[i]);
  puts("    *) case \"$first\" in");
  for (int i = 0; ew_commands[i]; i++)
    if (!strchr(ew_commands[i]->name, ' '))
      complete_command(ew_commands[i]);
  GHashTableIter iterator;
  gpointer noun;
  g_hash_table_iter_init(&iterator, nouns);
  while (g_hash_table_iter_next(&iterator, &noun, NULL)) {
    gboolean any = FALSE;
    for (int i = 0; ew_commands[i]; i++) {
      const char *blank = strchr(ew_commands[i]->name, ' ');
      if (blank && strncmp(ew_commands[i]->name, noun, strlen(noun)) == 0 &&
          ew_commands[i]->name[strlen(noun)] == ' ') {
        printf(any ? " %s" : "    '%s') words=\"", any ? blank + 1 : (char *)noun);
        if (!any)
          printf("%s", blank + 1);
        any = TRUE;
      }
    }
    if (any)
      puts("\" ;;");
  }
  puts("  esac ;;\n  esac; fi\n  mapfile -t COMPREPLY < <(compgen -W \"$words\" -f -- "
       "\"$current\")\n}\n"
       "complete -o filenames -F _enginewright enginewright");
  return TRUE;
}
const struct ew_command ew_command_completion = {.name = "completion",
                                                 .prints_text = TRUE,
                                                 .summary = "Completion for the bash shell",
                                                 .takes = "",
                                                 .run = run_completion,
                                                 .examples = "completion"};

static void roff(const char *text) {
  for (const char *c = text; *c; c++) {
    if (*c == '-')
      fputs("\\-", stdout);
    else if (*c == '\\')
      fputs("\\e", stdout);
    else
      putchar(*c);
  }
}

static gboolean run_man(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  puts(".TH ENGINEWRIGHT 1 \"\" \"Enginewright " EW_VERSION
       "\"\n.SH NAME\nenginewright \\- proves custom "
       "piston engines on an engine "
       "dyno\n.SH SYNOPSIS\n.B enginewright\n.I command\n[options]\n.SH COMMANDS");
  for (int i = 0; ew_commands[i]; i++) {
    const struct ew_command *c = ew_commands[i];
    printf(".SS ");
    roff(c->name);
    printf(" %s\n", c->takes);
    roff(c->summary);
    puts(".");
    for (const struct ew_option_spec *o = c->options; o && o->name; o++) {
      printf(".TP\n.B \\-\\-");
      roff(o->name);
      printf(" %s\n", o->value ? o->value : "");
      roff(o->help);
      puts("");
    }
    puts(".PP\nExamples:\n.nf");
    g_auto(GStrv) lines = g_strsplit(c->examples, "\n", -1);
    for (int k = 0; lines[k]; k++) {
      printf("enginewright ");
      roff(lines[k]);
      puts("");
    }
    puts(".fi");
  }
  puts(".SH \"EXIT STATUS\"\n0 done; 1 an answer of no; 2 bad usage or input; 3 internal.");
  return TRUE;
}
const struct ew_command ew_command_man = {.name = "man",
                                          .prints_text = TRUE,
                                          .summary = "The man page",
                                          .takes = "",
                                          .run = run_man,
                                          .examples = "man | man -l -"};
