/* A field for words. Nothing typed or pasted is cut: what is longer than the book keeps stays, the field says by how much, and
 * the form is not sent. Lengths are bytes of UTF-8, as the server counts them. */
import { useEffect, useRef } from 'preact/hooks';

const bytes = (text: string) => new TextEncoder().encode(text).length;
const grouped = new Intl.NumberFormat('en-US');

type Field = HTMLInputElement | HTMLTextAreaElement;
interface Props { label: string; value: string; most: number; lines?: number; required?: boolean; placeholder?: string; id?: string; onText: (text: string) => void }

export function Words({ label, value, most, lines = 1, onText, ...rest }: Props) {
  const field = useRef<Field>(null), length = bytes(value), over = length > most;
  const says = `${grouped.format(length)} characters, and at most ${grouped.format(most)} are kept: shorten it, or cut it in two. Nothing of it is lost.`;
  useEffect(() => { field.current?.setCustomValidity(over ? says : ''); }, [over, says]);
  const shared = { value, onInput: (e: { currentTarget: Field }) => { onText(e.currentTarget.value); }, ...(over ? { 'aria-invalid': 'true' as const } : {}) };
  /* Enter sends, as in a field of one line; with Shift it is a new line. */
  const enter = (e: KeyboardEvent) => { if (e.key === 'Enter' && !e.shiftKey && !e.isComposing) { e.preventDefault(); field.current?.form?.requestSubmit(); } };
  return (<>
    <label>{label} {lines > 1 ? <textarea ref={field as never} rows={lines} onKeyDown={enter} {...rest} {...shared} /> : <input ref={field as never} {...rest} {...shared} />}</label>
    {over && <span class="problem over" role="alert">{says}</span>}
  </>);
}
