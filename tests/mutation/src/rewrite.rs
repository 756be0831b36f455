//! Rewrites one file so that it holds every mutant of it at once, each behind `crate::switch::on(ID)`.

use crate::heads;
use proc_macro2::Span;
use std::collections::BTreeSet;
use syn::spanned::Spanned;
use syn::visit_mut::{self, VisitMut};
use syn::{BinOp, Expr, UnOp, parse_quote};

/// One change of meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mutant {
    /// `FILE:LINE:COLUMN CHANGE`, the same from run to run while the code before its line stays.
    pub key: String,
    /// Number that switches it on, from 1.
    pub id: u32,
}

/// Collects the mutants of file after file.
pub struct Rewriter<'a> {
    file: String,
    dropped: &'a BTreeSet<String>,
    next: u32,
    /// Mutants made, those that do not compile left out.
    pub made: Vec<Mutant>,
}

impl<'a> Rewriter<'a> {
    /// Leaves out the mutants whose keys are in `dropped`.
    pub fn new(dropped: &'a BTreeSet<String>) -> Self {
        let (file, made) = (String::new(), vec![]);
        Self {
            file,
            dropped,
            next: 1,
            made,
        }
    }

    /// The text of a file with its mutants.
    pub fn file(&mut self, name: &str, text: &str) -> syn::Result<String> {
        self.file = name.to_string();
        let mut parsed = syn::parse_file(text)?;
        self.visit_file_mut(&mut parsed);
        Ok(prettyplease::unparse(&parsed))
    }

    /// A number for a change at `span`; none for one that is dropped.
    pub(crate) fn mutant(&mut self, span: Span, change: &str) -> Option<u32> {
        let id = self.next;
        self.next += 1;
        let at = span.start();
        let key = format!("{}:{}:{} {change}", self.file, at.line, at.column + 1);
        if self.dropped.contains(&key) {
            return None;
        }
        self.made.push(Mutant { key, id });
        Some(id)
    }

    fn binary(&mut self, op: BinOp, span: Span, left: &Expr, right: &Expr) -> Option<Expr> {
        match op {
            BinOp::And(_) => {
                let id = self.mutant(span, "`&&` to `||`")?;
                let l = name("ml", id);
                Some(
                    parse_quote!((match #left { #l => if #l != crate::switch::on(#id) { #right } else { #l } })),
                )
            }
            BinOp::Or(_) => {
                let id = self.mutant(span, "`||` to `&&`")?;
                let l = name("ml", id);
                Some(
                    parse_quote!((match #left { #l => if #l == crate::switch::on(#id) { #right } else { #l } })),
                )
            }
            _ if is_assignment(op) => {
                let other = swaps(op).first().copied()?;
                let id = self.mutant(span, &change(op, other))?;
                let r = name("mr", id);
                Some(
                    parse_quote!((match #right { #r => if crate::switch::on(#id) { #left #other #r } else { #left #op #r } })),
                )
            }
            _ => self.value(op, span, left, right),
        }
    }

    /// Both operands worked out once; comparisons look at them by reference, as the operators do.
    fn value(&mut self, op: BinOp, span: Span, left: &Expr, right: &Expr) -> Option<Expr> {
        let mut others: Vec<(BinOp, u32)> = swaps(op)
            .iter()
            .filter_map(|other| Some((*other, self.mutant(span, &change(op, *other))?)))
            .collect();
        // Derivatives are not divided by plain numbers.
        if let (BinOp::Mul(_), []) = (op, others.as_slice()) {
            let plus = parse_quote!(+);
            others.extend(self.mutant(span, &change(op, plus)).map(|id| (plus, id)));
        }
        let first = others.first()?.1;
        let (l, r) = (name("ml", first), name("mr", first));
        let mut body: Expr = parse_quote!(#l #op #r);
        for (other, id) in &others {
            // The number is in the text of each line that may not compile.
            body = parse_quote!(if crate::switch::on(#id) { #l #other #r } else { #body });
        }
        Some(if is_comparison(op) {
            parse_quote!((match (&(#left), &(#right)) { (#l, #r) => #body }))
        } else {
            parse_quote!((match (#left, #right) { (#l, #r) => #body }))
        })
    }

    fn unary(&mut self, op: UnOp, span: Span, of: &Expr) -> Option<Expr> {
        let change = match op {
            UnOp::Neg(_) => "`-` left out",
            UnOp::Not(_) => "`!` left out",
            _ => return None,
        };
        let id = self.mutant(span, change)?;
        let l = name("ml", id);
        Some(parse_quote!((match #of { #l => if crate::switch::on(#id) { #l } else { #op #l } })))
    }

    fn negated(&mut self, condition: &mut Expr, change: &str) {
        if holds_let(condition) || is_compared(condition) {
            return;
        }
        let span = condition.span();
        if let Some(id) = self.mutant(span, change) {
            *condition = parse_quote!((#condition) ^ crate::switch::on(#id));
        }
    }

    fn body(
        &mut self,
        signature: &syn::Signature,
        attributes: &[syn::Attribute],
        block: &mut syn::Block,
    ) {
        if signature.constness.is_some() || is_test(attributes) || signature.ident == "fmt" {
            return;
        }
        let heads = heads::of(self, signature, block);
        visit_mut::visit_block_mut(self, block);
        block.stmts.splice(0..0, heads);
    }
}

impl VisitMut for Rewriter<'_> {
    fn visit_expr_mut(&mut self, expr: &mut Expr) {
        let span = expr.span();
        match expr {
            Expr::Const(_) | Expr::Macro(_) => return,
            Expr::Repeat(repeat) => return self.visit_expr_mut(&mut repeat.expr),
            Expr::If(e) => self.negated(&mut e.cond, "condition negated"),
            _ => {}
        }
        visit_mut::visit_expr_mut(self, expr);
        let new = match expr {
            Expr::Binary(e) if !holds_let(&e.left) && !holds_let(&e.right) => {
                self.binary(e.op, e.op.span(), &e.left, &e.right)
            }
            Expr::Unary(e) => self.unary(e.op, span, &e.expr),
            _ => None,
        };
        if let Some(new) = new {
            *expr = new;
        }
    }

    fn visit_arm_mut(&mut self, arm: &mut syn::Arm) {
        if let Some((_, guard)) = &mut arm.guard {
            self.negated(guard, "guard negated");
        }
        visit_mut::visit_arm_mut(self, arm);
    }

    fn visit_item_fn_mut(&mut self, item: &mut syn::ItemFn) {
        self.body(&item.sig, &item.attrs, &mut item.block);
    }

    fn visit_impl_item_fn_mut(&mut self, item: &mut syn::ImplItemFn) {
        self.body(&item.sig, &item.attrs, &mut item.block);
    }

    fn visit_trait_item_fn_mut(&mut self, item: &mut syn::TraitItemFn) {
        if let Some(block) = &mut item.default {
            self.body(&item.sig, &item.attrs, block);
        }
    }

    fn visit_item_mod_mut(&mut self, item: &mut syn::ItemMod) {
        if !is_test(&item.attrs) {
            visit_mut::visit_item_mod_mut(self, item);
        }
    }

    fn visit_item_impl_mut(&mut self, item: &mut syn::ItemImpl) {
        if !is_test(&item.attrs) {
            visit_mut::visit_item_impl_mut(self, item);
        }
    }

    // What the compiler works out, and what is no expression.
    fn visit_item_const_mut(&mut self, _: &mut syn::ItemConst) {}
    fn visit_item_static_mut(&mut self, _: &mut syn::ItemStatic) {}
    fn visit_impl_item_const_mut(&mut self, _: &mut syn::ImplItemConst) {}
    fn visit_trait_item_const_mut(&mut self, _: &mut syn::TraitItemConst) {}
    fn visit_item_enum_mut(&mut self, _: &mut syn::ItemEnum) {}
    fn visit_type_mut(&mut self, _: &mut syn::Type) {}
    fn visit_pat_mut(&mut self, _: &mut syn::Pat) {}
    fn visit_path_mut(&mut self, _: &mut syn::Path) {}
    fn visit_attribute_mut(&mut self, _: &mut syn::Attribute) {}
    fn visit_macro_mut(&mut self, _: &mut syn::Macro) {}
    fn visit_generics_mut(&mut self, _: &mut syn::Generics) {}
    fn visit_angle_bracketed_generic_arguments_mut(
        &mut self,
        _: &mut syn::AngleBracketedGenericArguments,
    ) {
    }
}

fn name(side: &str, id: u32) -> syn::Ident {
    syn::Ident::new(&format!("{side}{id}"), Span::call_site())
}

fn change(from: BinOp, to: BinOp) -> String {
    use quote::ToTokens;
    format!("`{}` to `{}`", from.to_token_stream(), to.to_token_stream())
}

/// Whether there is a `test` in an attribute: `#[test]`, `#[cfg(test)]`.
pub fn is_test(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|a| {
        a.path().is_ident("test")
            || a.path().is_ident("cfg")
                && matches!(&a.meta, syn::Meta::List(l) if l.tokens.to_string() == "test")
    })
}

fn holds_let(expr: &Expr) -> bool {
    match expr {
        Expr::Let(_) => true,
        Expr::Binary(e) => holds_let(&e.left) || holds_let(&e.right),
        _ => false,
    }
}

/// A comparison has the negated one among its own mutants.
fn is_compared(expr: &Expr) -> bool {
    matches!(expr, Expr::Binary(e) if is_comparison(e.op))
}

fn is_comparison(op: BinOp) -> bool {
    use BinOp::{Eq, Ge, Gt, Le, Lt, Ne};
    matches!(op, Lt(_) | Le(_) | Gt(_) | Ge(_) | Eq(_) | Ne(_))
}

fn is_assignment(op: BinOp) -> bool {
    use BinOp::{AddAssign, DivAssign, MulAssign, SubAssign};
    matches!(
        op,
        AddAssign(_) | SubAssign(_) | MulAssign(_) | DivAssign(_)
    )
}

/// What an operator is swapped for: the opposite one, and of an order also the end that it takes in.
fn swaps(op: BinOp) -> Vec<BinOp> {
    match op {
        BinOp::Add(_) => vec![parse_quote!(-)],
        BinOp::Sub(_) => vec![parse_quote!(+)],
        BinOp::Mul(_) => vec![parse_quote!(/)],
        BinOp::Div(_) => vec![parse_quote!(*)],
        BinOp::Rem(_) => vec![parse_quote!(/)],
        BinOp::AddAssign(_) => vec![parse_quote!(-=)],
        BinOp::SubAssign(_) => vec![parse_quote!(+=)],
        BinOp::MulAssign(_) => vec![parse_quote!(/=)],
        BinOp::DivAssign(_) => vec![parse_quote!(*=)],
        BinOp::Lt(_) => vec![parse_quote!(<=), parse_quote!(>=)],
        BinOp::Le(_) => vec![parse_quote!(<), parse_quote!(>)],
        BinOp::Gt(_) => vec![parse_quote!(>=), parse_quote!(<=)],
        BinOp::Ge(_) => vec![parse_quote!(>), parse_quote!(<)],
        BinOp::Eq(_) => vec![parse_quote!(!=)],
        BinOp::Ne(_) => vec![parse_quote!(==)],
        _ => vec![],
    }
}
