using GrooveLab.Audio.SoundFiles;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;

namespace GrooveLab.Outputs;

/// <summary>The file that a command writes, under the name that the user gave.</summary>
internal static class OutputFile
{
    /// <summary>The path of the file that the user named: full, or standard output for <c>-</c>.</summary>
    /// <exception cref="CommandFailure">Standard output is a terminal, which cannot show such a file.</exception>
    public static string PathOf(string given)
    {
        var path = given == "-" ? DurableFile.StandardOutput : given;
        return path == DurableFile.StandardOutput && !Console.IsOutputRedirected
            ? throw CommandFailure.BadInput($"-o {given}: the terminal cannot show such a file; send the output to another program or to a file")
            : path;
    }

    /// <summary>The settings of a sound file: its format by its name or by a word, which a pipe needs unless it takes a WAV file.</summary>
    /// <param name="path">The file.</param>
    /// <param name="word">One of <see cref="SoundFormats.Words"/>; null if none was given.</param>
    /// <param name="force">Whether an existing file may be replaced.</param>
    /// <exception cref="CommandFailure">The name has none of the endings, or not that of the format.</exception>
    public static SoundFileOptions Sound(string path, string? word, bool force)
    {
        var (format, depth) = word is null
            ? (SoundFormats.OfName(path) ?? SoundFormat.Wave, WaveDepth.Sixteen)
            : SoundFormats.OfWord(word);
        NeedEnding(path, word is null ? [.. SoundFormats.Endings] : [format.Ending()]);
        return new SoundFileOptions { Format = format, Depth = depth, Force = force };
    }

    /// <summary>The options for writing it.</summary>
    public static WriteOptions Options(bool force) => force ? WriteOptions.Replacing : WriteOptions.New;

    /// <summary>Ends the command if the file cannot be written, or is one of those that the command reads. Call it before any long work.</summary>
    /// <param name="path">The file.</param>
    /// <param name="force">Whether an existing file may be replaced.</param>
    /// <param name="inputs">The files that the command reads; links are followed. Null and standard input are no files.</param>
    public static void Refuse(string path, bool force, params IEnumerable<string?> inputs)
    {
        RefuseInput(path, inputs);
        if (DurableFile.Check(path, Options(force)) is { } refusal)
        {
            throw Failure(refusal);
        }
    }

    /// <summary>Ends the command if the file is one of those that the command reads.</summary>
    /// <inheritdoc cref="Refuse"/>
    public static void RefuseInput(string path, params IEnumerable<string?> inputs)
    {
        if (!DurableFile.IsStream(path) && inputs.OfType<string>().FirstOrDefault(input => input != StandardInput.Word && IsSameFile(path, input)) is { } read)
        {
            throw CommandFailure.BadInput($"{path} is the file {read} that is being read; choose another name");
        }
    }

    // Another name of the file on the disk (a hard link) is no danger: a replaced file keeps its content under its other names.
    private static bool IsSameFile(string one, string other) => string.Equals(
        DurableFile.RealPath(one),
        DurableFile.RealPath(other),
        OperatingSystem.IsLinux() ? StringComparison.Ordinal : StringComparison.OrdinalIgnoreCase);

    /// <summary>Ends the command unless the file name has one of the given endings. Pipes and devices need none.</summary>
    public static void NeedEnding(string path, params string[] endings)
    {
        if (!endings.Any(ending => path.EndsWith(ending, StringComparison.OrdinalIgnoreCase)) && !DurableFile.IsStream(path))
        {
            throw CommandFailure.BadInput($"-o {path}: the file name must end in {Words.Or(endings)}");
        }
    }

    /// <summary>Ends the command if the file was not written.</summary>
    public static void NeedWritten(WriteResult result)
    {
        if (result.Refusal is { } refusal)
        {
            throw Failure(refusal);
        }
    }

    /// <summary>The file's name in messages.</summary>
    public static string NameOf(string path) => path == DurableFile.StandardOutput && !TypedWords.IsTyped(path) ? "standard output" : path;

    /// <summary>The writer for lines about the file: not the pipe that receives the file itself.</summary>
    public static TextWriter Remarks(string path) => DurableFile.IsStream(path) ? Console.Error : Console.Out;

    private static CommandFailure Failure(FileRefusal refusal) => refusal.Problem switch
    {
        FileProblem.AlreadyExists => CommandFailure.BadInput($"{refusal.Path} already exists; choose another name, or add --force to replace it"),
        FileProblem.IsFolder or FileProblem.NotAFile or FileProblem.FolderMissing or FileProblem.NameTooLong or FileProblem.InvalidName
            or FileProblem.TooManyLinks => CommandFailure.BadInput(refusal.Message),
        _ => new CommandFailure(ExitCodes.Failed, refusal.Message),
    };
}
