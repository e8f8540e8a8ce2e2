//! Diagnostics as text.
use backporch::base::diagnostic::Diagnostic;

/// Draws them.
pub(crate) fn render(diagnostics: &[Diagnostic]) -> String {
    diagnostics
        .iter()
        .map(|d| {
            format!(
                "error: {} {:?} {} {:?}\n",
                d.message,
                d.span.as_ref().map(|s| (s.source.name.clone(), s.range.clone())),
                d.expected,
                d.hint
            )
        })
        .collect()
}
