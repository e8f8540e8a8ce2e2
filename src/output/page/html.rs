//! HTML that is well-formed XML too: every element is closed, every text escaped.

use crate::output::table::Row;
use crate::output::table::Side;
use crate::output::table::Table;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;

/// Attributes of an element: names and values.
pub(in crate::output) type Attributes<'a> = &'a [(&'a str, &'a str)];

/// A page in the making.
#[derive(Debug, Default)]
pub(in crate::output) struct Html {
    text: String,
}

impl Html {
    /// What was written.
    pub(in crate::output) fn into_text(self) -> String {
        self.text
    }

    /// An element and what stands in it.
    pub(in crate::output) fn with(
        &mut self,
        name: &str,
        attributes: Attributes<'_>,
        inside: impl FnOnce(&mut Self),
    ) {
        self.open(name, attributes, ">");
        inside(self);
        self.text += &format!("</{name}>\n");
    }

    /// An element that holds a text.
    pub(in crate::output) fn element(
        &mut self,
        name: &str,
        attributes: Attributes<'_>,
        text: &str,
    ) {
        self.with(name, attributes, |html| html.text += &escaped(text));
    }

    /// An element that holds nothing.
    pub(in crate::output) fn empty(&mut self, name: &str, attributes: Attributes<'_>) {
        self.open(name, attributes, "/>\n");
    }

    /// A heading and a section below it; `id` names it within the page.
    pub(in crate::output) fn section(
        &mut self,
        id: &str,
        heading: &str,
        inside: impl FnOnce(&mut Self),
    ) {
        self.with("section", &[("id", id)], |html| {
            html.element("h2", &[], heading);
            inside(html);
        });
    }

    /// A paragraph.
    pub(in crate::output) fn paragraph(&mut self, text: &str) {
        self.element("p", &[], text);
    }

    /// A list, an item for each text.
    pub(in crate::output) fn list<'a>(&mut self, items: impl IntoIterator<Item = &'a str>) {
        self.with("ul", &[], |html| {
            for item in items {
                html.element("li", &[], item);
            }
        });
    }

    /// A picture that is carried in the page.
    pub(in crate::output) fn picture(&mut self, png: &[u8], words: &str) {
        let source = format!("data:image/png;base64,{}", STANDARD.encode(png));
        self.with("figure", &[], |html| {
            html.empty("img", &[("src", &source), ("alt", words)]);
            html.element("figcaption", &[], words);
        });
    }

    /// A table in a box of its own that can be moved sideways; columns without an entry are left
    /// out with their heading, prose takes a whole row.
    pub(in crate::output) fn table(&mut self, table: &Table) {
        let shown: Vec<usize> =
            (0..table.columns.len()).filter(|&index| table.width(index) > 0).collect();
        let side = |index: usize| match table.columns[index].side {
            Side::Left => "left",
            Side::Right => "right",
        };
        self.with("div", &[("class", "wide")], |html| {
            html.with("table", &[], |html| {
                html.with("thead", &[], |html| {
                    html.with("tr", &[], |html| {
                        for &index in &shown {
                            let heading = &table.columns[index].heading;
                            html.element("th", &[("class", side(index))], heading);
                        }
                    });
                });
                html.with("tbody", &[], |html| {
                    for row in &table.rows {
                        html.with("tr", &[], |html| match row {
                            Row::Cells(cells) => {
                                for &index in &shown {
                                    let cell = cells.get(index).map_or("", String::as_str);
                                    html.element("td", &[("class", side(index))], cell);
                                }
                            }
                            Row::Prose(words) => {
                                let span = shown.len().to_string();
                                let of = [("class", "prose"), ("colspan", span.as_str())];
                                html.element("td", &of, words);
                            }
                        });
                    }
                });
            });
        });
    }

    /// A drawing, in the page itself, so that it is sharp on paper and can be searched.
    pub(in crate::output) fn drawing(&mut self, svg: &str) {
        // HTML knows the element; the name space is an address that a page has no need of.
        self.text += &svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
    }

    /// Text that is HTML already.
    pub(in crate::output) fn ready_made(&mut self, html: &str) {
        self.text += html;
    }

    fn open(&mut self, name: &str, attributes: Attributes<'_>, end: &str) {
        self.text += &format!("<{name}");
        for (name, value) in attributes {
            self.text += &format!(" {name}=\"{}\"", escaped(value));
        }
        self.text += end;
    }
}

/// Text as an element or an attribute may hold it. What neither HTML nor XML has a place for, and
/// what would turn the direction of the words around it, becomes the replacement character.
pub(in crate::output) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for one in text.chars() {
        match one {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' => safe.push(' '),
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{fffe}' | '\u{ffff}' => {
                safe.push('\u{fffd}');
            }
            control if control.is_control() => safe.push('\u{fffd}'),
            plain => safe.push(plain),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::table::Column;

    #[test]
    fn what_was_written_is_read_back_as_it_was_said() {
        let hostile = "<script>alert('x')</script> & \"quoted\" ]]> --> \u{1}\u{202e}";
        let mut html = Html::default();
        html.with("div", &[("title", hostile)], |html| html.paragraph(hostile));
        let text = html.into_text();
        let page = roxmltree::Document::parse(&text).unwrap();
        let read = hostile.replace(['\u{1}', '\u{202e}'], "\u{fffd}");
        assert_eq!(page.root_element().attribute("title"), Some(read.as_str()));
        let paragraph = page.descendants().find(|node| node.has_tag_name("p")).unwrap();
        assert_eq!(paragraph.text(), Some(read.as_str()));
    }

    #[test]
    fn a_table_leaves_out_empty_columns_and_its_prose_spans_the_rest() {
        let columns = ["one", "two", "three"].map(Column::left);
        let mut table = Table::new(columns.into());
        table.push(vec!["1".into(), String::new(), "3".into()]);
        table.prose(Some("and why"));
        let mut html = Html::default();
        html.table(&table);
        let text = html.into_text();
        let page = roxmltree::Document::parse(&text).unwrap();
        let count = |name: &str| page.descendants().filter(|node| node.has_tag_name(name)).count();
        assert_eq!((count("th"), count("tr"), count("td")), (2, 3, 3));
        assert!(text.contains("colspan=\"2\""), "{text}");
    }
}
