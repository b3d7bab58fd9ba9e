/* The screens and parts that are not seen first: loaded when one is asked for, or when the page has nothing to do. */
import style from '../more.late.css';

const sheet = new CSSStyleSheet();
sheet.replaceSync(style);
document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];

export { Facts, PullDeeds } from './pulls_facts';
export { TripsOfPull } from './trips';
export { CalibrateScreen } from './screen_calibrate';
export { BuildScreen, LashScreen } from './screen_build';
export { EngineScreen } from './screen_engine';
export { HandoverScreen } from './screen_handover';
export { JobsScreen } from './screen_jobs';
export { PredictScreen } from './screen_predict';
export { SearchScreen } from './screen_search';
export { ShopScreen } from './screen_shop';
export { StoreLine } from './shop_store';
export { ChannelsView } from './view_channels';
export { MethodView } from './view_method';
export { StepUpView } from './view_step_up';
export { SweepView } from './view_sweep';
export { LiveSetup } from './live_setup';
export { SourceForm } from './live_source';
export { AlarmTableChoice } from './live_alarm_table';
export { CurveNotes } from './curve_notes';
export { Explain } from './explain';
export { Photos } from './photos';
export { First } from './screen_first';
export { FullScreen } from './full_screen';
export { RecorderCard } from './recorder_card';
export { FactOrigin } from './fact_origin';
export { drawingOf } from './plot_svg';
