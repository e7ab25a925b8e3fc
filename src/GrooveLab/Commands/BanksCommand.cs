using System.CommandLine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Outputs;
using Spectre.Console;

namespace GrooveLab.Commands;

/// <summary><c>banks</c>: lists the SoundFont banks, or the sounds of one.</summary>
internal static class BanksCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("banks", "List the SoundFont banks found, or the sounds of one bank.", "groovelab banks built-in");
        var bank = new Argument<string?>("BANK") { Description = "Bank whose sounds to list: a file, or a name from the list.", Arity = ArgumentArity.ZeroOrOne };
        Completion.WithBanks(bank.CompletionSources);
        command.Arguments.Add(bank);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            if (parsed.GetValue(bank) is { } name)
            {
                var sounds = Banks.OpenSilently(name);
                foreach (var oddity in sounds.Oddities)
                {
                    Console.Error.WriteLine($"groovelab: {sounds.Name}: {oddity}");
                }

                ListSounds(sounds);
                return ExitCodes.Ok;
            }

            ListBanks();
            return ExitCodes.Ok;
        }));
        return command;
    }

    private static void ListBanks()
    {
        var rows = new List<string[]> { new[] { Banks.BuiltIn, "built by GrooveLab", string.Empty } };
        foreach (var file in Banks.Found())
        {
            rows.Add([Path.GetFileNameWithoutExtension(file), Size(file), file]);
        }

        Report.Table(["bank", "size", "file"], rows);
        if (rows.Count == 1)
        {
            Console.Out.WriteLine("No other banks found in: " + string.Join(", ", Banks.Folders()));
        }
    }

    private static void ListSounds(SoundFontBank bank) => Report.Table(
        ["bank", "program", "sound"],
        [.. bank.Presets.OrderBy(preset => preset.Bank).ThenBy(preset => preset.Program)
            .Select(preset => new[] { preset.Bank.ToString(), preset.Program.ToString(), preset.Name })]);

    private static string Size(string file)
    {
        var target = File.ResolveLinkTarget(file, returnFinalTarget: true) as FileInfo ?? new FileInfo(file);
        return target.Exists ? $"{target.Length / 1_000_000.0:0.0} MB" : "missing";
    }
}
