using GrooveLab.Audio.SoundFiles;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

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

    /// <summary>The name of the file for messages.</summary>
    public static string NameOf(string path) => path == DurableFile.StandardOutput ? "standard output" : path;

    /// <summary>The format of a sound file: by its name, or, for a pipe, by a word.</summary>
    /// <param name="path">The file.</param>
    /// <param name="word">The format's word; null if none was given.</param>
    /// <exception cref="CommandFailure">The name has none of the endings, or another one than the format.</exception>
    public static SoundFormat SoundFormat(string path, string? word)
    {
        var asked = word is null ? (SoundFormat?)null : SoundFormats.OfWord(word);
        if (DurableFile.IsStream(path))
        {
            return asked ?? SoundFormats.OfName(path) ?? Audio.SoundFiles.SoundFormat.Wave;
        }

        NeedEnding(path, asked is { } one ? [one.Ending()] : [.. SoundFormats.Endings]);
        return SoundFormats.OfName(path)!.Value;
    }

    /// <summary>The options for writing it.</summary>
    public static WriteOptions Options(bool force) => force ? WriteOptions.Replacing : WriteOptions.New;

    /// <summary>Ends the command if the file cannot be written. Call it before any long work.</summary>
    public static void Refuse(string path, bool force)
    {
        if (DurableFile.Check(path, Options(force)) is { } refusal)
        {
            throw Failure(refusal);
        }
    }

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
