using System.Diagnostics;
using System.Reflection.Metadata;
using System.Reflection.PortableExecutable;
using System.Security.Cryptography;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>One of the two builds, with its own folders for cached sounds, settings and data, so that neither can use the
/// other's.</summary>
internal sealed class Build
{
    private static readonly string[] Own = ["XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"];
    private readonly string _program;
    private readonly string _live;

    /// <summary>A build.</summary>
    /// <param name="name">"base" or "current".</param>
    /// <param name="program">The program's assembly.</param>
    /// <param name="live">This tool's assembly, built with the same sources.</param>
    /// <param name="folder">The folder for all its output; emptied first.</param>
    public Build(string name, string program, string live, string folder)
    {
        (Name, _program, _live, Folder) = (name, Path.GetFullPath(program), Path.GetFullPath(live), Path.GetFullPath(folder));
        if (Directory.Exists(Folder))
        {
            Directory.Delete(Folder, recursive: true);
        }

        Directory.CreateDirectory(Folder);
    }

    /// <summary>"base" or "current".</summary>
    public string Name { get; }

    /// <summary>The output folder.</summary>
    public string Folder { get; }

    /// <summary>The identity that the compiler gave to an assembly of it: it changes with every source and option.</summary>
    public string IdentityOf(string assembly)
    {
        using var file = new PEReader(File.OpenRead(Path.Combine(Path.GetDirectoryName(_program)!, assembly)));
        var reader = file.GetMetadataReader();
        return reader.GetGuid(reader.GetModuleDefinition().Mvid).ToString();
    }

    /// <summary>The bank of built-in sounds in its cache.</summary>
    /// <exception cref="InvalidOperationException">There is not exactly one: then it is uncertain which sounds were used.</exception>
    public (string Name, byte[] Bytes) Sounds()
    {
        var files = Directory.GetFiles(Path.Combine(Folder, Own[0]), "*.sf2", SearchOption.AllDirectories);
        return files is [var only]
            ? (Path.GetFileName(only), File.ReadAllBytes(only))
            : throw new InvalidOperationException($"the cache of the {Name} build holds {files.Length} banks of sounds, not one");
    }

    /// <summary>The path of a file in its folder.</summary>
    public string PathOf(string file) => Path.Combine(Folder, file);

    /// <summary>Runs the program.</summary>
    public RunResult Run(params IEnumerable<string> words) => Start(_program, words);

    /// <summary>Runs this tool against the build's own classes.</summary>
    public RunResult RunLive(params IEnumerable<string> words) => Start(_live, words);

    private RunResult Start(string assembly, IEnumerable<string> words)
    {
        var start = new ProcessStartInfo("dotnet", [assembly, .. words])
        {
            WorkingDirectory = Folder,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            UseShellExecute = false,
        };
        foreach (var name in Own)
        {
            start.Environment[name] = Path.Combine(Folder, name);
        }

        foreach (var name in start.Environment.Keys.Where(name => name.StartsWith("GROOVELAB_", StringComparison.Ordinal)).ToList())
        {
            start.Environment.Remove(name);
        }

        using var process = Process.Start(start) ?? throw new InvalidOperationException("dotnet does not start");
        var errors = process.StandardError.ReadToEndAsync();
        using var output = new MemoryStream();
        process.StandardOutput.BaseStream.CopyTo(output);
        process.WaitForExit();
        return new RunResult(process.ExitCode, output.ToArray(), errors.Result.Trim());
    }
}

/// <summary>The result of running a program.</summary>
/// <param name="Code">Its exit code.</param>
/// <param name="Output">Its standard output.</param>
/// <param name="Errors">Its standard error.</param>
internal sealed record RunResult(int Code, byte[] Output, string Errors)
{
    public static string HashOf(byte[] bytes) => Convert.ToHexString(SHA256.HashData(bytes))[..16];
}
