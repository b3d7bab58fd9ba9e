/* Rows of designs as text. */
#include "search_rows.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void add_row(struct rows *r, const double *word) {
  gsize n = (gsize)r->count + 1;
  if ((r->count & (r->count - 1)) == 0) { /* doubled at each power of two */
    r->point = g_renew(double, r->point, 2 * n * (gsize)r->axes);
    r->figure = g_renew(double, r->figure, 2 * n * (gsize)r->wishes);
    r->sound = g_renew(gboolean, r->sound, 2 * n);
    r->round = g_renew(int, r->round, 2 * n);
  }
  r->round[r->count] = (int)word[1];
  r->sound[r->count] = word[2] != 0;
  memcpy(r->point + r->count * r->axes, word + 3, sizeof(double) * (gsize)r->axes);
  memcpy(r->figure + r->count * r->wishes, word + 3 + r->axes, sizeof(double) * (gsize)r->wishes);
  r->count++;
}

void rows_read(const char *path, int axes, int wishes, struct rows *r) {
  *r = (struct rows){.axes = axes, .wishes = wishes};
  char *text = NULL;
  if (!g_file_get_contents(path, &text, NULL, NULL))
    return;
  for (char *at = text, *end; (end = strchr(at, '\n')); at = end + 1) {
    double word[3 + EW_AXES_MOST + EW_FIGURES_MOST];
    char *next = at;
    int n = 0;
    for (; n < 3 + axes + wishes && next < end; n++) {
      char *before = next;
      word[n] = g_ascii_strtod(next, &next);
      if (next == before)
        break;
    }
    if (n != 3 + axes + wishes || next != end)
      break;
    add_row(r, word);
    r->bytes = (gsize)(end + 1 - text);
  }
  g_free(text);
}

void rows_mend(const char *path, const struct rows *r) {
  if (access(path, F_OK) == 0 && truncate(path, (off_t)r->bytes) != 0)
    perror(path);
}

void rows_clear(struct rows *r) {
  g_free(r->point);
  g_free(r->figure);
  g_free(r->sound);
  g_free(r->round);
}

void rows_add(const char *path, int first, int stride, int round, const double *points,
              const double *figures, const gboolean *sound, int count, int axes, int wishes) {
  FILE *file = fopen(path, "a");
  if (!file) {
    perror(path);
    exit(2);
  }
  for (int i = 0; i < count; i++) {
    char buffer[G_ASCII_DTOSTR_BUF_SIZE];
    fprintf(file, "%d %d %d", first + i * stride, round, sound[i] ? 1 : 0);
    for (int j = 0; j < axes; j++)
      fprintf(file, " %s", g_ascii_dtostr(buffer, sizeof buffer, points[i * axes + j]));
    for (int k = 0; k < wishes; k++)
      fprintf(file, " %s", g_ascii_dtostr(buffer, sizeof buffer, figures[i * wishes + k]));
    fputc('\n', file);
  }
  if (fclose(file) != 0) {
    perror(path);
    exit(2);
  }
}
