//! Functions that give a plain value at once.

use crate::rewrite::Rewriter;
use quote::ToTokens;
use syn::{Block, GenericArgument, PathArguments, ReturnType, Signature, Stmt, Type, parse_quote};

/// Most values tried at the head of one function.
const MOST: usize = 2;

/// The returns at the head of a function, one a mutant.
pub(crate) fn of(rewriter: &mut Rewriter, signature: &Signature, block: &Block) -> Vec<Stmt> {
    let whole = match block.stmts.as_slice() {
        [] => return vec![],
        [Stmt::Expr(only, None)] => only.to_token_stream().to_string(),
        _ => String::new(),
    };
    let values = match &signature.output {
        ReturnType::Default => vec![parse_quote!(())],
        ReturnType::Type(_, kind) => values(kind),
    };
    let new = values
        .iter()
        .take(MOST)
        .filter(|v| v.to_token_stream().to_string() != whole);
    new.filter_map(|value| {
        let text: String = value
            .to_token_stream()
            .to_string()
            .split_whitespace()
            .collect();
        let what = format!("`{}` gives {text}", signature.ident);
        let id = rewriter.mutant(signature.ident.span(), &what)?;
        // A block of its own, so that the number stands before whatever may not compile.
        Some(parse_quote!(if crate::switch::on(#id) { return #value; }))
    })
    .collect()
}

/// Plain values of a type; `Default` for what is not known, which need not compile.
fn values(kind: &Type) -> Vec<syn::Expr> {
    match kind {
        Type::Path(path) => path.path.segments.last().map_or(vec![], named),
        Type::Tuple(tuple) => {
            let each: Option<Vec<syn::Expr>> = tuple
                .elems
                .iter()
                .map(|t| values(t).into_iter().next())
                .collect();
            let each = each.unwrap_or_default();
            if each.len() == tuple.elems.len() {
                vec![parse_quote!((#(#each),*))]
            } else {
                vec![]
            }
        }
        Type::Array(array) => {
            let len = &array.len;
            let first = values(&array.elem).into_iter().next();
            first
                .map(|value| parse_quote!([#value; #len]))
                .into_iter()
                .collect()
        }
        Type::Reference(reference) if matches!(&*reference.elem, Type::Path(p) if p.path.is_ident("str")) =>
        {
            vec![parse_quote!("")]
        }
        _ => vec![],
    }
}

fn named(segment: &syn::PathSegment) -> Vec<syn::Expr> {
    let inner = match &segment.arguments {
        PathArguments::AngleBracketed(of) => of.args.first(),
        _ => None,
    };
    match segment.ident.to_string().as_str() {
        "f64" | "f32" => vec![parse_quote!(0.0), parse_quote!(1.0)],
        "bool" => vec![parse_quote!(false), parse_quote!(true)],
        "usize" | "u64" | "u32" | "u16" | "u8" | "i64" | "i32" => {
            vec![parse_quote!(0), parse_quote!(1)]
        }
        "Option" => vec![parse_quote!(None)],
        "Vec" => vec![parse_quote!(Vec::new())],
        "String" => vec![parse_quote!(String::new())],
        "Result" => {
            let Some(GenericArgument::Type(kind)) = inner else {
                return vec![];
            };
            values(kind)
                .iter()
                .map(|value| parse_quote!(Ok(#value)))
                .collect()
        }
        "S" => vec![parse_quote!(
            <S as sealspan_numeric::jet::Scalar>::constant(0.0)
        )],
        _ => vec![parse_quote!(Default::default())],
    }
}
