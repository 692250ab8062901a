/** An element of an XML document: its name without prefix, its attributes without prefix, its element children and its text. */
export interface XmlElement {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: readonly XmlElement[];
  /** Text directly inside, without that of children. */
  readonly text: string;
}

/** Deepest nesting and largest number of elements read. */
const DEEPEST = 100;
const MOST = 500_000;

const NAME = /[\p{L}_:][\p{L}\p{N}_:.\-\u00b7]*/uy;
const ENTITIES: Readonly<Record<string, string>> = { lt: '<', gt: '>', amp: '&', quot: '"', apos: "'" };

interface Open {
  readonly tag: string;
  readonly element: {
    name: string;
    attributes: Record<string, string>;
    children: XmlElement[];
    text: string;
  };
}

/**
 * Reads an XML document: elements, attributes, text, CDATA, comments, processing instructions, the five named entities and
 * character references. Refuses DOCTYPE, and with it every entity that could be defined. Namespaces are not resolved:
 * prefixes are dropped.
 * @throws SyntaxError naming the line, for anything that is not well-formed.
 */
export function readXml(text: string): XmlElement {
  let at = text.startsWith('\ufeff') ? 1 : 0;
  const stack: Open[] = [];
  let root: XmlElement | null = null;
  let count = 0;
  const fail = (what: string, where = at): never => {
    const line = text.slice(0, where).split(/\r\n|\n|\r/).length;
    throw new SyntaxError(`Line ${line}: ${what}`);
  };
  const skipTo = (end: string, what: string): number => {
    const found = text.indexOf(end, at);
    if (found < 0) fail(`${what} is never closed`);
    return found;
  };
  const name = (): string => {
    NAME.lastIndex = at;
    const found = NAME.exec(text)?.[0] ?? fail('expected a name');
    at += found.length;
    return found;
  };
  const space = () => {
    while (at < text.length && /[ \t\r\n]/.test(text[at])) at++;
  };
  while (at < text.length) {
    if (text[at] !== '<') {
      const end = text.indexOf('<', at);
      const part = text.slice(at, end < 0 ? text.length : end);
      const open = stack.at(-1);
      if (open) open.element.text += decode(part, (what) => fail(what));
      else if (part.trim() !== '') fail('text outside the document element');
      at += part.length;
    } else if (text.startsWith('<!--', at)) {
      at = skipTo('-->', 'a comment') + 3;
    } else if (text.startsWith('<![CDATA[', at)) {
      const end = skipTo(']]>', 'a CDATA section');
      const open = stack.at(-1) ?? fail('CDATA outside the document element');
      open.element.text += text.slice(at + 9, end);
      at = end + 3;
    } else if (text.startsWith('<?', at)) {
      at = skipTo('?>', 'a processing instruction') + 2;
    } else if (text.startsWith('<!', at)) {
      fail('a document type definition is not accepted');
    } else if (text.startsWith('</', at)) {
      at += 2;
      const tag = name();
      space();
      if (text[at] !== '>') fail(`expected > after </${tag}`);
      at++;
      const open = stack.pop();
      if (open?.tag !== tag)
        fail(open ? `expected </${open.tag}>, got </${tag}>` : `</${tag}> closes nothing`);
    } else {
      if (root && stack.length === 0) fail('a second document element');
      at++;
      const tag = name();
      const attributes: Record<string, string> = Object.create(null) as Record<string, string>;
      for (;;) {
        const before = at;
        space();
        if (at >= text.length) fail(`<${tag} is never closed`);
        if (text[at] === '>' || text[at] === '/') break;
        if (before === at) fail(`expected a space before the next attribute of <${tag}>`);
        const key = name();
        space();
        if (text[at] !== '=') fail(`expected = after the attribute ${key}`);
        at++;
        space();
        const quote = text[at];
        if (quote !== '"' && quote !== "'") fail(`expected the attribute ${key} in quotes`);
        at++;
        const end = skipTo(quote, `the attribute ${key}`);
        const value = text.slice(at, end);
        if (value.includes('<')) fail(`the attribute ${key} contains <`);
        // Prefixed names lose their prefix, declarations of namespaces are nothing we need.
        if (key !== 'xmlns' && !key.startsWith('xmlns:')) {
          const short = local(key);
          if (Object.hasOwn(attributes, short)) fail(`the attribute ${short} occurs twice in <${tag}>`);
          attributes[short] = decode(value, (what) => fail(what));
        }
        at = end + 1;
      }
      const element = { name: local(tag), attributes, children: [] as XmlElement[], text: '' };
      if (++count > MOST) fail(`more than ${MOST} elements`);
      const parent = stack.at(-1);
      if (parent) parent.element.children.push(element);
      else root = element;
      if (text.startsWith('/>', at)) {
        at += 2;
      } else if (text[at] === '>') {
        at++;
        stack.push({ tag, element });
        if (stack.length > DEEPEST) fail(`elements nested deeper than ${DEEPEST}`);
      } else {
        fail(`expected > at the end of <${tag}`);
      }
    }
  }
  const open = stack.at(-1);
  if (open) fail(`<${open.tag}> is never closed`);
  return root ?? fail('no document element');
}

function local(name: string): string {
  return name.slice(name.indexOf(':') + 1);
}

function decode(text: string, fail: (what: string) => never): string {
  if (!text.includes('&')) return text;
  return text.replace(
    /&(?:#x([0-9a-f]{1,6})|#(\d{1,7})|(\w+));|&/gi,
    (_, hex?: string, decimal?: string, named?: string) => {
      if (named !== undefined && Object.hasOwn(ENTITIES, named)) return ENTITIES[named];
      const code =
        hex !== undefined ? parseInt(hex, 16) : decimal !== undefined ? parseInt(decimal, 10) : NaN;
      const allowed =
        code === 9 ||
        code === 10 ||
        code === 13 ||
        (code >= 0x20 && code <= 0x10ffff && !(code >= 0xd800 && code <= 0xdfff));
      return allowed ? String.fromCodePoint(code) : fail('an & that begins no known entity');
    },
  );
}

/** Every element of this name anywhere below, in document order. */
export function elementsNamed(element: XmlElement, name: string): XmlElement[] {
  const out: XmlElement[] = [];
  const walk = (at: XmlElement) => {
    for (const child of at.children) {
      if (child.name === name) out.push(child);
      walk(child);
    }
  };
  walk(element);
  return out;
}

/** The first element of this name among the children, or null. */
export function childNamed(element: XmlElement, name: string): XmlElement | null {
  return element.children.find((child) => child.name === name) ?? null;
}
