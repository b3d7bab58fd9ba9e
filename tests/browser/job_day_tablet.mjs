// The first day of a new shop, on a tablet that lies on the bench, by touch alone; the server is killed and started again in the middle of it.
import { dayOfANewShop } from './day_new_shop.mjs';

export default () => dayOfANewShop({ name: 'tablet', broken: true, viewport: { width: 1024, height: 768 }, hasTouch: true });
