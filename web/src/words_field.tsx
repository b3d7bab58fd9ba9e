/* A field for words. Nothing typed or pasted is cut: what is longer than the book keeps stays, the field says by how much, and
 * the form is not sent. Lengths are bytes of UTF-8, as the server counts them. */
import { useEffect, useRef } from 'preact/hooks';
import { locale, t } from './words';

const bytes = (text: string) => new TextEncoder().encode(text).length;
const grouped = (count: number) => new Intl.NumberFormat(locale()).format(count); /* dear: only of what is too long */

type Field = HTMLInputElement | HTMLTextAreaElement;
interface Props { label: string; value: string; most: number; lines?: number; required?: boolean; placeholder?: string; id?: string; onText: (text: string) => void }

export function Words({ label, value, most, lines = 1, onText, ...rest }: Props) {
  const field = useRef<Field>(null), length = bytes(value), over = length > most;
  const says = over ? t('{length} characters, and at most {most} are kept: shorten it, or split it in two. Nothing is lost.', { length: grouped(length), most: grouped(most) }) : '';
  useEffect(() => { field.current?.setCustomValidity(says); }, [says]);
  const shared = { value, onInput: (e: { currentTarget: Field }) => { onText(e.currentTarget.value); }, ...(over ? { 'aria-invalid': 'true' as const } : {}) };
  /* Enter sends, as in a field of one line; with Shift it is a new line. */
  const enter = (e: KeyboardEvent) => { if (e.key === 'Enter' && !e.shiftKey && !e.isComposing) { e.preventDefault(); field.current?.form?.requestSubmit(); } };
  return (<>
    <label>{label} {lines > 1 ? <textarea ref={field as never} rows={lines} onKeyDown={enter} {...rest} {...shared} /> : <input ref={field as never} {...rest} {...shared} />}</label>
    {over && <span class="problem over" role="alert">{says}</span>}
  </>);
}
