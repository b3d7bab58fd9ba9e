/* Bundled as text (web/bundle): the style of what is loaded later. */
declare module '*.late.css' {
  const style: string;
  export default style;
}
