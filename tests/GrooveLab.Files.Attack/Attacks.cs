using System.Diagnostics;
using System.Text;
using GrooveLab.Files.Posix;

namespace GrooveLab.Files.Attack;

/// <summary>
/// The attacks on the service that saves texts. After each, every text of the user must exist, complete, and the newest in the file or in
/// <c>NAME~</c>.
/// </summary>
internal sealed class Attacks : IDisposable
{
    private const int Kills = 200;
    private const string Name = "song.toml";

    private readonly Random _random;
    private readonly string _only;
    private readonly string _base = Directory.CreateTempSubdirectory("groovelab-attack-").FullName;
    private readonly List<string> _mounts = [];
    private readonly List<string> _texts = [];
    private int _edits;
    private string _folder = string.Empty;
    private string _data = string.Empty;
    private int _losses;
    private int _notDone;

    private Attacks(int seed, string only)
    {
        _random = new Random(seed);
        _only = only;
    }

    private string Song => Path.Combine(_folder, Name);

    /// <summary>Runs all of them and prints a line for each.</summary>
    /// <param name="seed">The random seed for the moments.</param>
    /// <param name="only">The start of the names of the attacks to run; empty for all.</param>
    /// <returns>0 if nothing was lost; 1 for a loss; 77 if an attack is impossible here.</returns>
    public static int All(int seed, string only)
    {
        using var attacks = new Attacks(seed, only);
        Console.WriteLine($"seed {seed}");
        attacks.Line("kill -9 while saving", () => attacks.KillWhileSaving(plain: false));
        attacks.Line("kill -9, plain system", () => attacks.KillWhileSaving(plain: true));
        attacks.Line("terminated while writing", attacks.SignalWhileWriting);
        attacks.Line("terminated while beginning", attacks.SignalWhileBeginning);
        attacks.Line("disk full, page by page", attacks.FullDisk);
        attacks.Line("disk full, data folder too", attacks.FullDiskOfAll);
        attacks.Line("read-only mount", attacks.ReadOnly);
        attacks.Line("read-only data folder", attacks.ReadOnlyData);
        attacks.Line("edited outside, replaced", () => attacks.EditOutside(inPlace: false, plain: false));
        attacks.Line("edited outside, in place", () => attacks.EditOutside(inPlace: true, plain: false));
        attacks.Line("two programs at once", () => attacks.TwoPrograms(plain: false));
        attacks.Line("two programs, plain system", () => attacks.TwoPrograms(plain: true));
        attacks.Line("save after save", attacks.SaveAfterSave);
        Console.WriteLine(attacks._losses == 0 ? "nothing was lost" : $"{attacks._losses} LOST");
        return attacks._losses > 0 ? 1 : attacks._notDone > 0 ? 77 : 0;
    }

    public void Dispose()
    {
        foreach (var mount in _mounts)
        {
            _ = Ran("umount", mount);
        }

        Directory.Delete(_base, recursive: true);
    }

    private void Line(string attack, Func<string> run)
    {
        if (!attack.StartsWith(_only, StringComparison.Ordinal))
        {
            return;
        }

        var start = Stopwatch.GetTimestamp();
        var before = _losses;
        string result;
        try
        {
            result = run();
        }
        catch (CannotBeDoneException reason)
        {
            _notDone++;
            result = "NOT DONE: " + reason.Message;
        }

        Console.WriteLine($"{attack,-28} {(_losses == before ? "0 lost" : $"{_losses - before} LOST"),-8} {Stopwatch.GetElapsedTime(start).TotalSeconds,5:0.0} s  {result}");
    }

    // New folders for each attack: one for the song with the user's first text, one for the program's data.
    private void Fresh(string? folder = null, string? data = null)
    {
        var place = Path.Combine(_base, Guid.NewGuid().ToString("N"));
        _folder = folder ?? Path.Combine(place, "songs");
        _data = data ?? Path.Combine(place, "data");
        Directory.CreateDirectory(_folder);
        Directory.CreateDirectory(_data);
        _texts.Clear();
        _edits = 0;
        Edit();
    }

    // The user writes a new text. If it replaces one of the user's own, that one may be lost.
    private void Edit(bool inPlace = false)
    {
        var text = SealedText.Make("user", ++_edits, _random.Next(200, 30_000));
        _texts.Add(text);
        var bytes = Encoding.UTF8.GetBytes(text);
        string replaced;
        if (inPlace)
        {
            using var file = new FileStream(Song, FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite, bufferSize: 0);
            var before = new byte[file.Length];
            file.ReadExactly(before);
            file.SetLength(0);
            file.Position = 0;
            file.Write(bytes);
            replaced = Encoding.UTF8.GetString(before);
        }
        else
        {
            var other = Path.Combine(_folder, "editor");
            File.WriteAllBytes(other, bytes);
            if (!File.Exists(Song))
            {
                File.Move(other, Song);
                return;
            }

            // In one step, so that the replaced text is known.
            if (!OperatingSystem.IsLinux() || PosixCalls.RenameAt2(PosixCalls.WorkingFolder, other, PosixCalls.WorkingFolder, Song, PosixCalls.Exchange) != 0)
            {
                throw new CannotBeDoneException("names cannot be exchanged here");
            }

            replaced = File.ReadAllText(other);
            File.Delete(other);
        }

        if (replaced != text)
        {
            _texts.Remove(replaced);
        }
    }

    // The song is complete, every text of the user exists somewhere, and the newest is in one of the two files.
    private void Check(string when)
    {
        var song = File.Exists(Song) ? File.ReadAllText(Song) : string.Empty;
        if (!SealedText.IsWhole(song))
        {
            Lost($"{when}: {Name} is incomplete ({song.Length} characters)");
        }

        CheckKept(when, _texts.Select(ContentHash.Of));
        if (song != _texts[^1] && (!File.Exists(Song + "~") || File.ReadAllText(Song + "~") != _texts[^1]))
        {
            Lost($"{when}: the newest text is in neither of the two files");
        }
    }

    private void CheckKept(string when, IEnumerable<ContentHash> contents)
    {
        var there = Directory.GetFiles(_folder, Name + "*").Select(path => ContentHash.Of(File.ReadAllBytes(path))).ToHashSet();
        foreach (var content in contents.Where(content => !there.Contains(content)))
        {
            var text = _texts.Find(text => ContentHash.Of(text) == content) ?? "the other program's text,";
            Lost($"{when}: {text[..text.IndexOf(',', StringComparison.Ordinal)]} is gone");
        }
    }

    private void CheckNothingLeft(string when)
    {
        if (Temporary() is var left and > 0)
        {
            Lost($"{when}: {left} temporary files left");
        }
    }

    private void Lost(string what)
    {
        _losses++;
        Console.WriteLine("LOST " + what);
    }

    private int Temporary() => Directory.GetFiles(_folder, ".groovelab-*").Length;

    private Saver Saving(string name, int times, params string[] how) =>
        new(["save", Song, _data, name, _random.Next(200, 30_000).ToString(), times.ToString(), .. how]);

    private string KillWhileSaving(bool plain)
    {
        var rounds = plain ? Kills / 4 : Kills;
        string[] how = plain ? ["plain"] : [];
        Fresh();
        var left = 0;
        var saves = 0;
        var next = Saving("program", 0, how);
        for (var round = 0; round < rounds; round++)
        {
            // Started early, because starting takes half of the time.
            using var saver = next;
            next = round + 1 < rounds ? Saving("program", 0, how) : null!;
            if (round % 4 == 3)
            {
                Edit(inPlace: round % 8 == 3);
            }

            saver.Go();
            if (round % 2 == 0)
            {
                saver.Next();
            }

            Wait(_random.NextDouble() * (round % 2 == 0 ? 0.02 : 0.12));
            saver.Kill();
            saver.ToEnd();
            saves += saver.Said.Count;
            left += Temporary();
            Check($"round {round + 1}");
        }

        _ = new TextKeeper(_data).Save(Song, SealedText.Make("program", 0, 100), ContentHash.Of(File.ReadAllBytes(Song)));
        Check("after all");
        CheckNothingLeft("after the next save");
        return $"{rounds} kills in {saves} saves, {_edits} texts of the user; temporary files left {left}, after the next save 0";
    }

    private string SignalWhileWriting()
    {
        Fresh();
        var rounds = 0;
        foreach (var signal in new[] { "TERM", "INT", "HUP", "KILL" })
        {
            foreach (var how in new string[][] { [], ["plain"] })
            {
                using var writer = new Saver(["write", Song, .. how]);
                writer.Next();
                Wait(_random.NextDouble() * 0.02);
                writer.Signal(signal);
                rounds++;
                Check($"{signal} {string.Concat(how)}");
                if (signal == "KILL" && how.Length > 0)
                {
                    // Unavoidable at that moment; the next write removes it.
                    DurableFile.WriteText(Path.Combine(_folder, "other"), "x", WriteOptions.Replacing).ThrowIfRefused();
                }

                CheckNothingLeft(signal);
            }
        }

        return $"{rounds} signals, no temporary file left";
    }

    private string SignalWhileBeginning()
    {
        const int Rounds = 20;
        Fresh();
        for (var round = 0; round < Rounds; round++)
        {
            using var writer = new Saver(["begin", Path.Combine(_folder, "other")]);
            writer.Next();
            Wait(_random.NextDouble() * 0.02);
            writer.Signal("TERM");
            CheckNothingLeft($"round {round + 1}");
        }

        return $"{Rounds} signals, no temporary file left";
    }

    private string FullDisk()
    {
        var disk = Mounted("256k");
        Fresh(folder: Path.Combine(disk, "songs"));
        return FillPageByPage(disk);
    }

    private string FullDiskOfAll()
    {
        var disk = Mounted("256k");
        Fresh(folder: Path.Combine(disk, "songs"), data: Path.Combine(disk, "data"));
        return FillPageByPage(disk);
    }

    private string FillPageByPage(string disk)
    {
        var filler = Path.Combine(disk, "filler");
        var read = ContentHash.Of(File.ReadAllBytes(Song));
        var (written, refused) = (0, 0);
        for (var pages = 0; pages <= 24; pages++)
        {
            using (var full = new FileStream(filler, FileMode.OpenOrCreate))
            {
                full.SetLength(0);
                try
                {
                    while (true)
                    {
                        full.Write(new byte[4096]);
                        full.Flush();
                    }
                }
                catch (IOException)
                {
                    full.SetLength(full.Length / 4096 * 4096);
                }

                full.SetLength(Math.Max(0, full.Length - (pages * 4096)));
            }

            if (pages % 5 == 4 && new FileInfo(filler).Length > 0)
            {
                File.Delete(filler);
                Edit();
                read = ContentHash.Of(File.ReadAllBytes(Song));
                continue;
            }

            switch (new TextKeeper(_data).Save(Song, SealedText.Make("program", pages, 9000), read))
            {
                case SaveAnswer.Written answer:
                    written++;
                    read = answer.Content;
                    break;
                case SaveAnswer.Refused { Refusal: { Problem: FileProblem.DiskFull } refusal } when refusal.Message.Contains(Song, StringComparison.Ordinal):
                    refused++;
                    break;
                case var other:
                    Lost($"{pages} pages: result {other}");
                    break;
            }

            Check($"{pages} pages");
            CheckNothingLeft($"{pages} pages");
        }

        return $"{refused} refused, {written} written";
    }

    private string ReadOnly()
    {
        var disk = Mounted("512k");
        Fresh(folder: disk);
        Run("mount", "-o", "remount,ro", disk);
        var answer = new TextKeeper(_data).Save(Song, SealedText.Make("program", 1, 100), ContentHash.Of(_texts[0]));
        if (answer is not SaveAnswer.Refused { Refusal.Problem: FileProblem.ReadOnly })
        {
            Lost($"result {answer}");
        }

        Check("read-only");
        Run("mount", "-o", "remount,rw", disk);
        _ = new TextKeeper(_data).Save(Song, SealedText.Make("program", 1, 100), ContentHash.Of(_texts[0]));
        Check("written again");
        return "refused, then written";
    }

    private string ReadOnlyData()
    {
        var disk = Mounted("512k");
        Fresh(data: disk);
        Run("mount", "-o", "remount,ro", disk);
        var read = ContentHash.Of(_texts[0]);
        for (var save = 1; save <= 10; save++)
        {
            if (save == 5)
            {
                Edit();
                read = ContentHash.Of(_texts[^1]);
            }

            if (new TextKeeper(_data).Save(Song, SealedText.Make("program", save, 100), read) is SaveAnswer.Written written)
            {
                read = written.Content;
            }
            else
            {
                Lost($"save {save} was not written");
            }

            // If nothing can be recorded, the newest copy may be the program's.
            CheckKept($"save {save}", _texts.Select(ContentHash.Of));
        }

        return $"10 saves, {Directory.GetFiles(_folder, Name + "~*").Length} copies";
    }

    private string EditOutside(bool inPlace, bool plain)
    {
        const int Edits = 200;
        Fresh();
        using var saver = Saving("program", 0, plain ? ["plain"] : []);
        saver.Go();
        saver.Next();
        for (var edit = 0; edit < Edits; edit++)
        {
            Wait(_random.NextDouble() * 0.02);
            Edit(inPlace);
        }

        // The program notices a text that reached the replaced file some time after.
        Wait(0.5);
        saver.Kill();
        saver.ToEnd();
        Check("after all");
        return $"{Edits} edits in {saver.Said.Count(line => line.StartsWith("written", StringComparison.Ordinal))} saves, noticed {saver.Said.Count(line => line == "changed")} times";
    }

    private string TwoPrograms(bool plain)
    {
        const int Times = 60;
        string[] how = plain ? ["anyway", "plain"] : ["anyway"];
        Fresh();
        using var one = Saving("one", Times, how);
        using var two = Saving("two", Times, how);
        one.Go();
        two.Go();
        one.ToEnd();
        two.ToEnd();
        var said = one.Said.Concat(two.Said).ToList();
        var kept = said.Where(line => line.StartsWith("kept ", StringComparison.Ordinal)).Select(line => ContentHash.Parse(line[5..])!.Value).ToList();
        var refused = said.Where(line => line.StartsWith("refused", StringComparison.Ordinal)).ToList();
        refused.ForEach(line => Lost(line));

        // Every text except the last has one successor. If it has two or none, a program replaced a text that it had not read.
        var written = said.Where(line => line.StartsWith("written ", StringComparison.Ordinal)).Select(line => line.Split(' ')).ToList();
        var last = ContentHash.Of(File.ReadAllBytes(Song)).ToString();
        foreach (var text in written.Select(words => words[2]).Append(ContentHash.Of(_texts[0]).ToString()))
        {
            if (written.Count(words => words[1] == text) is var followers && followers != (text == last ? 0 : 1))
            {
                Lost($"a text was replaced by {followers} saves that had read it: {text}");
            }
        }

        CheckKept("two programs", kept.Concat(_texts.Select(ContentHash.Of)));
        CheckNothingLeft("two programs");
        return $"{said.Count(line => line.StartsWith("written", StringComparison.Ordinal))} saves, {kept.Count} over the other's, each kept";
    }

    private string SaveAfterSave()
    {
        Fresh();
        var saves = 0;
        for (var program = 0; program < 10; program++)
        {
            using var saver = Saving("program", 5);
            saver.Go();
            saver.ToEnd();
            saves += saver.Said.Count(line => line.StartsWith("written", StringComparison.Ordinal));
            Check($"program {program + 1}");
        }

        if (Directory.GetFiles(_folder).Length != 2)
        {
            Lost($"{Directory.GetFiles(_folder).Length} files instead of two");
        }

        return $"{saves} saves by 10 programs, two files";
    }

    private string Mounted(string size)
    {
        var folder = Path.Combine(_base, "mount-" + Guid.NewGuid().ToString("N"));
        Directory.CreateDirectory(folder);
        Run("mount", "-t", "tmpfs", "-o", "size=" + size, "none", folder);
        _mounts.Add(folder);
        return folder;
    }

    private static void Run(string command, params string[] arguments)
    {
        if (Ran(command, arguments) is { Length: > 0 } problem)
        {
            throw new CannotBeDoneException(problem);
        }
    }

    private static string Ran(string command, params string[] arguments)
    {
        try
        {
            using var process = Process.Start(new ProcessStartInfo(command, arguments) { UseShellExecute = false, RedirectStandardError = true })!;
            var problem = process.StandardError.ReadToEnd();
            process.WaitForExit();
            return process.ExitCode == 0 ? string.Empty : problem.Trim() + " ";
        }
        catch (System.ComponentModel.Win32Exception problem)
        {
            return $"{command}: {problem.Message}";
        }
    }

    // Shorter than the system's shortest sleep, because the moments within a save matter.
    private static void Wait(double seconds)
    {
        var start = Stopwatch.GetTimestamp();
        while (Stopwatch.GetElapsedTime(start).TotalSeconds < seconds)
        {
            if (seconds - Stopwatch.GetElapsedTime(start).TotalSeconds > 0.005)
            {
                Thread.Sleep(1);
            }
        }
    }

    /// <summary>An attack that this user or system does not permit.</summary>
    private sealed class CannotBeDoneException(string reason) : Exception(reason);
}
