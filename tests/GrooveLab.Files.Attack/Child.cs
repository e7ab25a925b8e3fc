using System.Runtime.InteropServices;
using System.Text;

namespace GrooveLab.Files.Attack;

/// <summary>The work of the process that the attack kills, starves or races.</summary>
internal static class Child
{
    /// <summary>Saves repeatedly until it is ended, or a number of times.</summary>
    /// <remarks>
    /// Answers on standard output, a line for each save: <c>written HASH HASH</c> (the text that it expected to replace, and its own),
    /// <c>kept HASH</c> (saved over a text from outside, which had this hash), <c>changed</c>, <c>refused PROBLEM SENTENCE</c>.
    /// </remarks>
    /// <param name="path">The file.</param>
    /// <param name="data">The data folder.</param>
    /// <param name="name">The name that it writes in its texts.</param>
    /// <param name="bytes">The approximate length of a text.</param>
    /// <param name="times">The number of saves; 0 for no limit.</param>
    /// <param name="anyway">Whether it saves over a text from outside; otherwise it treats that as read.</param>
    /// <param name="plain">As in <see cref="WriteOptions.IsPlain"/>.</param>
    public static int Save(string path, string data, string name, int bytes, int times, bool anyway, bool plain)
    {
        Console.In.ReadLine();
        var keeper = new TextKeeper(data) { IsPlain = plain };
        var read = Read(path);
        for (var number = 1; times == 0 || number <= times; number++)
        {
            var text = SealedText.Make(name, number, bytes);
            var answer = keeper.Save(path, text, read);
            while (answer is SaveAnswer.ChangedOutside(_, var current))
            {
                Say("changed");
                read = current;
                answer = anyway ? keeper.SaveAnyway(path, text, current) : keeper.Save(path, text, current);
                if (anyway && answer is SaveAnswer.Written { Backup: not null })
                {
                    Say($"kept {current}");
                }
            }

            switch (answer)
            {
                case SaveAnswer.Written written:
                    Say($"written {read} {written.Content}");
                    read = written.Content;
                    break;
                case SaveAnswer.Refused refused:
                    Say($"refused {refused.Refusal.Problem} {refused.Refusal.Message}");
                    break;
                default:
                    return 1;
            }
        }

        return 0;
    }

    /// <summary>Writes one long file, slowly, until it is ended; removes what it wrote when a signal ends it.</summary>
    /// <param name="path">The file.</param>
    /// <param name="plain">As in <see cref="WriteOptions.IsPlain"/>.</param>
    public static int Write(string path, bool plain)
    {
        var signals = new[] { PosixSignal.SIGTERM, PosixSignal.SIGINT, PosixSignal.SIGHUP }
            .Select(signal => PosixSignalRegistration.Create(signal, _ => DurableFile.EndAll())).ToList();
        var block = new byte[1 << 16];
        var result = DurableFile.Write(
            path,
            stream =>
            {
                for (var count = 0; ; count++)
                {
                    stream.Write(block);
                    if (count == 3)
                    {
                        Say("begun");
                    }

                    Thread.Sleep(1);
                }
            },
            WriteOptions.Replacing with { IsPlain = plain });
        Say($"refused {result.Refusal?.Problem} {result.Refusal?.Message}");

        // Waits for the signal to end the process.
        Thread.Sleep(Timeout.Infinite);
        signals.Clear();
        return 1;
    }

    /// <summary>Begins one named file after another until a signal ends it; removes what it wrote then.</summary>
    /// <param name="path">The file.</param>
    public static int Begin(string path)
    {
        using var signal = PosixSignalRegistration.Create(PosixSignal.SIGTERM, _ => DurableFile.EndAll());
        for (var count = 0; ; count++)
        {
            var result = DurableFile.WriteBytes(path, new byte[100], WriteOptions.Replacing with { IsPlain = true });
            if (result.Refusal is { Problem: FileProblem.Abandoned })
            {
                // Waits for the signal to end the process.
                Thread.Sleep(Timeout.Infinite);
            }

            if (count == 0)
            {
                Say("begun");
            }
        }
    }

    /// <summary>Starts a file and ends in the middle of it, as a program ends regularly.</summary>
    public static int Leave(string path)
    {
        DurableFile.Write(
            path,
            stream =>
            {
                stream.Write(new byte[1 << 20]);
                Say($"left {Directory.GetFiles(Path.GetDirectoryName(path)!).Length}");
                Environment.Exit(0);
            },
            new WriteOptions { IsPlain = true });
        return 1;
    }

    /// <summary>Writes a file once and prints the result.</summary>
    public static int Once(string path, int bytes, bool replace, bool plain)
    {
        var options = new WriteOptions { Replace = replace, IsPlain = plain };
        var result = DurableFile.WriteBytes(path, new byte[bytes], options);
        Say(result.IsWritten ? "written" : $"refused {result.Refusal!.Problem} {result.Refusal.Message}");
        return 0;
    }

    /// <summary>Writes a text into a stream such as <c>/dev/stdout</c>.</summary>
    public static int Stream(string path, string text)
    {
        var result = DurableFile.WriteText(path, text);
        Console.Error.WriteLine(result.IsWritten ? "written" : $"refused {result.Refusal!.Problem} {result.Refusal.Message}");
        return 0;
    }

    private static ContentHash? Read(string path)
    {
        try
        {
            return ContentHash.Of(File.ReadAllBytes(path));
        }
        catch (FileNotFoundException)
        {
            return null;
        }
    }

    // Each line is written at once, so that it is out however the process ends.
    private static void Say(string line)
    {
        using var output = Console.OpenStandardOutput();
        output.Write(Encoding.UTF8.GetBytes(line + "\n"));
    }
}
