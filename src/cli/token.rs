//! `token`: what only the operator may do with tokens.

use super::args::{TokenCommand, TokenCreateArgs, TokenListArgs};
use super::failure::{Failure, Mend as _};
use super::{open, output};
use crate::app::Db;
use crate::app::document::token::TokenRequest;
use crate::app::document::{List, NewTokenDocument, TokenDocument};
use crate::app::operator;
use crate::clock::{Clock as _, SystemClock};
use crate::config::Settings;
use crate::domain::Slug;
use crate::domain::token::Token;

/// Runs one of the `token` commands.
pub(super) async fn run(command: &TokenCommand, settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    let done = match command {
        TokenCommand::Create(args) => create(&db, args).await,
        TokenCommand::List(args) => list(&db, args).await,
        TokenCommand::Revoke(args) => revoke(&db, args.id).await,
        TokenCommand::Erase(args) => erase(&db, args.id).await,
    };
    db.close().await;
    done
}

async fn create(db: &Db, args: &TokenCreateArgs) -> Result<(), Failure> {
    let request = TokenRequest {
        name: args.name.clone(),
        role: args.role.into(),
        watersheds: args.watersheds.clone(),
        days: args.days,
    };
    let (token, secret) = operator::create_token(db, SystemClock.now(), &request)
        .await
        .mend("Declare the watershed first: subimago import setup FILE.toml")?;
    if args.json {
        return output::json(&NewTokenDocument { token: TokenDocument::from(&token), secret });
    }
    output::note(&format!(
        "Token {} for {} ({}), until {}. It is shown this once and kept nowhere:",
        token.id,
        token.name,
        token.role.as_str(),
        token.expires_at.date_naive()
    ));
    output::result(&secret)
}

async fn list(db: &Db, args: &TokenListArgs) -> Result<(), Failure> {
    let tokens = operator::tokens(db, args.watershed.as_ref()).await.mend("Check the name of the watershed.")?;
    if args.json {
        return output::json(&List::whole(tokens.iter().map(TokenDocument::from).collect()));
    }
    for token in &tokens {
        output::result(&line(token))?;
    }
    Ok(())
}

/// One token in one line.
fn line(token: &Token) -> String {
    let watersheds: Vec<&str> = token.watersheds.iter().map(Slug::as_str).collect();
    let ends = match token.revoked_at {
        Some(at) => format!("revoked {}", at.date_naive()),
        None => format!("until {}", token.expires_at.date_naive()),
    };
    let used = token.last_used_date.map_or_else(|| "never used".to_owned(), |date| format!("last used {date}"));
    format!("{}  {:<6}  {}  {ends}, {used}  {}", token.id, token.role.as_str(), watersheds.join(","), token.name)
}

async fn revoke(db: &Db, id: uuid::Uuid) -> Result<(), Failure> {
    let now =
        operator::revoke_token(db, id, SystemClock.now()).await.mend("`subimago token list` shows the identifiers.")?;
    output::note(if now { "The token has ended." } else { "The token had ended before." });
    Ok(())
}

async fn erase(db: &Db, id: uuid::Uuid) -> Result<(), Failure> {
    let done =
        operator::erase_token(db, id, SystemClock.now()).await.mend("`subimago token list` shows the identifiers.")?;
    output::note(&format!(
        "The token has ended. Its name is gone, and the free text of {} reports and {} earlier versions of them. \
         Copies of the database still hold them: erase there too, or let them go.",
        done.reports, done.revisions
    ));
    Ok(())
}
