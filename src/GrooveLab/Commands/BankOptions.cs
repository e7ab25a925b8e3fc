using System.CommandLine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary>The options that choose the sounds: a bank, and how much of its attenuation counts.</summary>
internal sealed class BankOptions
{
    private readonly Option<string?> _bank = new("--bank") { Description = "SoundFont bank instead of the built-in sounds.", HelpName = "BANK" };
    private readonly Option<double?> _attenuation = new("--attenuation")
    {
        Description = "Share of the bank's attenuation, 0 to 1. Default: 0.4.",
        HelpName = "SHARE",
    };

    /// <summary>Adds the options to a command.</summary>
    public BankOptions(Command command)
    {
        OptionRanges.Number(_attenuation, 0, 1);
        command.Validators.Add(result =>
        {
            if (result.GetResult(_attenuation) is { Implicit: false } && result.GetResult(_bank) is not { Implicit: false })
            {
                result.AddError("--attenuation needs --bank; the built-in sounds have no attenuation");
            }
        });
        Completion.WithBanks(_bank.CompletionSources);
        command.Options.Add(_bank);
        command.Options.Add(_attenuation);
    }

    /// <summary>The bank's name as given; null for the built-in sounds.</summary>
    public string? Name(ParseResult parsed) => parsed.GetValue(_bank);

    /// <summary>The share of the bank's attenuation to apply, 0-1.</summary>
    public float AttenuationShare(ParseResult parsed) => (float?)parsed.GetValue(_attenuation) ?? SoundFontBank.UsualAttenuationShare;

    /// <summary>The bank's file; null for the built-in sounds, and if there is none.</summary>
    public string? File(ParseResult parsed) => Name(parsed) is { } name ? Banks.FileOf(name) : null;

    /// <summary>Opens the bank; the first start, which makes the built-in sounds, shows how far they are.</summary>
    public SoundFontBank Open(ParseResult parsed) => Name(parsed) is null or Banks.BuiltIn && !Banks.IsBuiltInKept
        ? Report.Progress("making the built-in sounds, this once", (progress, _) => Banks.OpenBuiltIn(progress))
        : Banks.Open(Name(parsed), AttenuationShare(parsed));
}
