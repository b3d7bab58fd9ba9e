/* The reader's language, and in English American or British labels by the server's table: every text that an element shows
 * goes through one place, where Preact makes elements. What somebody typed stands in elements marked translate={false} (HTML's own word for it), and is left. */
import { Fragment, options, type VNode } from 'preact';
import { computed } from '@preact/signals';
import { book } from './state';
import { inWords, language } from './words';

export const labels = computed(() => book.value?.settings['labels'] === 'american' ? 'american' : 'british');

const table = computed(() => {
  if (labels.value !== 'american' || !book.value) return null;
  const words = new Map(book.value.label_pairs.map((pair) => [pair.british, pair.american]));
  const any = [...words.keys()].sort((a, b) => b.length - a.length).join('|');
  /* A word within a key, an option, an address or quotes is part of what is typed: words and rule are the server's. */
  const rule = book.value.label_rule, set = (characters: string) => `[\\p{L}\\p{N}${characters.replace(/[\\\]^-]/g, '\\$&')}]`;
  return { words, any: new RegExp(`(?<!${set(rule.not_after)})(?:${any})(?!${set(rule.not_before)})`, 'giu') };
});

/** A text in the reader's language, in English with its words put as the shop wants them. */
export function put(text: string): string {
  if (language.value !== 'en') return inWords(text);
  const t = table.value;
  if (!t) return text;
  return text.replace(t.any, (word) => {
    const other = t.words.get(word.toLowerCase()) ?? word;
    if (word[0] !== word[0]!.toUpperCase()) return other;
    return word[1] === word[1]!.toUpperCase() ? other.toUpperCase() : other[0]!.toUpperCase() + other.slice(1);
  });
}

const heard = ['aria-label', 'title', 'placeholder', 'alt', 'aria-valuetext'];
const wordless = new Set(['code', 'style', 'script']), verbatim = new Set(['textarea']); /* a field's placeholder and name are ours; its content is not */
const putAny = (child: unknown): unknown => typeof child === 'string' ? put(child) : Array.isArray(child) ? child.map(putAny) : child;

const before = options.vnode;
options.vnode = (node: VNode) => {
  if ((typeof node.type === 'string' || node.type === Fragment) && (language.value !== 'en' || labels.value === 'american') && !wordless.has(node.type as string)) {
    const props = node.props as Record<string, unknown>;
    if (props['translate'] !== false) {
      if (props['children'] != null && !verbatim.has(node.type as string)) props['children'] = putAny(props['children']);
      for (const name of heard) if (typeof props[name] === 'string') props[name] = put(props[name] as string);
    }
  }
  before?.(node);
};
